"""Fifth family, sensors: trains of family E, with the exact error of every instrument beside its record.

The true error is known without scatter: what drift, dirt and faults put on, and, while a fault of the signal
lasts, what was shown less the water.
"""

from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np

from benchmarks import families_fifth_faults as wrongs
from benchmarks import families_fifth_records as kept
from benchmarks import families_records as records
from benchmarks.families import STEPS_A_DAY, Bools, Clock, Floats, shown_as
from benchmarks.families_fifth import PLACES, Place, kind_of
from benchmarks.families_fifth_bench import grabs, logbook
from benchmarks.families_fifth_climate import Drivers, drivers
from benchmarks.families_fifth_errors import Life, interval_days, life
from benchmarks.families_fifth_water import true_course
from benchmarks.families_sensors import Order, Sensor, Train, grid
from benchmarks.families_third_records import at_pace
from benchmarks.faults import RECORD_KINDS, SHIFT, Fault, accrued

SWAPPED_SHARE = 0.15
LOST_SHARE = 0.001
SHIFT_HOURS = 12.0
ANY_KIND = (("wells", 0.45), ("lake", 0.55))
SELECTOR_MINUTES = 10


@dataclass(frozen=True)
class _Tag:
    """What one tag is before anything is recorded of it."""

    order: Order
    place: Place
    recorder: kept.Recorder
    lived: Life
    faults: tuple[Fault, ...]
    shape: str
    swap: int
    course: Floats  # water [working scale]
    slow: Floats  # error of the instrument [working scale]
    book: list[int]  # seed of the logbook of a shared analyser


def train(seed: int, orders: list[Order], history_days: int, scored_days: int) -> Train:
    """Return a simulated train; the same arguments give the same sensors."""
    key = [seed, crc32(b"family E")]
    random = np.random.default_rng(key)
    time, clock = grid(history_days + scored_days)
    names, shares = zip(*ANY_KIND, strict=True)
    kind = kind_of({order.measure for order in orders}) or str(random.choice(names, p=shares))
    happened = drivers(random, clock, time[0].hour + time[0].minute / 60, kind)
    _, usual = kept.recorder(random, PLACES[orders[0].measure].measure)
    stays = any(order.kind == "copied" for order in orders)
    sensors: list[Sensor] = []
    other: Floats | None = None
    for number, order in enumerate(orders):
        own = np.random.default_rng([*key, number])
        tag = _tag(key, own, order, clock, happened, None if stays else usual, history_days)
        clean, fine = _signal(own, tag, happened, other, _turn(orders, number))
        other = fine[:: kept.FINE]
        sensors.append(_sensor(own, tag, f"AIT-{number + 1:03d}", clean, fine, clock, happened))
    return Train(time, happened.running, sensors)


def _turn(orders: list[Order], number: int) -> tuple[int, int]:
    """Return which of an analyser's streams this is, and how many it has; 0 of 0 if it is not shared."""
    name = PLACES[orders[number].measure].shared
    streams = [at for at, one in enumerate(orders) if name and PLACES[one.measure].shared == name]
    return (streams.index(number), len(streams)) if streams else (0, 0)


def _tag(
    key: list[int],
    random: np.random.Generator,
    order: Order,
    clock: Clock,
    happened: Drivers,
    usual: int | None,
    history: int,
) -> _Tag:
    place, count = PLACES[order.measure], len(clock.day)
    course = true_course(random, place, clock, happened)
    drawn, _ = kept.recorder(random, place.measure, usual)
    is_beside = order.reference == "twin" or order.kind == "twin" or usual is None
    # The streams of one analyser share its life and its faults: the same numbers are drawn for each.
    shared = np.random.default_rng([*key, crc32(place.shared.encode())]) if place.shared else random
    is_mixed = order.group == "mix" and order.is_serviced
    made, shape = (
        wrongs.faults(shared, order, place, happened.running, history) if is_mixed else ((), "straight")
    )
    swap = wrongs.swap_row(shared, order, made, count, SWAPPED_SHARE if is_mixed else 0.0)
    lived = life(shared, order, place, happened.by["air"], happened.by["warm"], swap, history)
    if not is_mixed:
        made = wrongs.ordered(shared, order, lived.plan, happened.running, history)
    made = wrongs.at_service(made, shape, lived.plan)
    for fault in made:
        if fault.kind == SHIFT:
            course = course + _shift(random, fault, place, count)
    slow = lived.slow + wrongs.wear(shared, made, shape, place, lived.plan, course, happened)
    return _Tag(
        order, place, kept.PLAIN if is_beside else drawn, lived, made, shape, swap, course, slow,
        [*key, crc32(place.shared.encode()), 1],
    )  # fmt: skip


def _shift(random: np.random.Generator, fault: Fault, place: Place, count: int) -> Floats:
    """Move the water for good, within half a day."""
    moved = np.clip((np.arange(count) - fault.begin) / (SHIFT_HOURS * STEPS_A_DAY / 24), 0.0, 1.0)
    return random.choice([-1.0, 1.0]) * fault.size * place.measure.day_sd * moved


def _signal(
    random: np.random.Generator, tag: _Tag, happened: Drivers, other: Floats | None, turn: tuple[int, int]
) -> tuple[Floats, Floats]:
    """Return what is shown on the grid without scatter, and every five minutes with it [unit].

    The first holds the faults of the signal, not those on the way to the recorder. `turn` is of the streams.
    """
    m, count = tag.place.measure, len(tag.course)
    fine = np.arange(count * kept.FINE) / kept.FINE
    working = np.interp(fine, np.arange(count), tag.course) + np.repeat(tag.slow, kept.FINE)
    shown = shown_as(m, working + kept.scatter(random, m, len(fine), tag.swap))
    beside = np.repeat(shown_as(m, tag.course + 0.1) if other is None else other, kept.FINE)
    at, streams = turn
    if streams > 1:
        held = streams * SELECTOR_MINUTES * 60 // kept.FINE_S
        shown = kept.switched(random, shown, beside if at else None, held, at * held // streams)
    shown = kept.handled(random, shown, tag.lived.plan, m) if tag.order.is_serviced else shown
    for fault in tag.faults:
        if fault.kind in RECORD_KINDS and fault.kind not in kept.DIGITAL:
            shown = kept.signal_broken(random, fault, tag.shape, m, shown, beside, happened)
    leaves = _leaves(tag)
    clean = np.where(
        _broken(tag), shown[:: kept.FINE], kept.within_span(m, shown_as(m, tag.course + tag.slow), leaves)
    )
    shown = kept.within_span(m, shown, leaves)
    if m.name == "flow":
        runs = np.repeat(happened.running, kept.FINE)
        shown = np.where(runs | np.isnan(shown), shown, 0.0)
    for begin, rows in happened.blinks:
        shown[begin : begin + rows] = shown[begin - 1]
    return kept.within_span(m, clean, leaves), shown


def _broken(tag: _Tag) -> Bools:
    """Rows in which a fault of the signal is under way."""
    rows = np.zeros(len(tag.course), dtype=bool)
    for fault in tag.faults:
        if fault.kind in RECORD_KINDS and fault.kind not in kept.DIGITAL:
            rows[fault.begin : fault.end] = True
    return rows


def _leaves(tag: _Tag) -> bool:
    return any(fault.kind == "out_of_range" for fault in tag.faults)


def _sensor(
    random: np.random.Generator,
    tag: _Tag,
    name: str,
    clean: Floats,
    fine: Floats,
    clock: Clock,
    happened: Drivers,
) -> Sensor:
    order, place, way = tag.order, tag.place, tag.recorder
    book = np.random.default_rng(tag.book) if place.shared else random
    m = place.measure
    gone = np.repeat(happened.lost, kept.FINE) | (random.random(len(fine)) < LOST_SHARE)
    taken = kept.kept_of(np.where(gone, np.nan, fine), way)
    for fault in tag.faults:
        if fault.kind in kept.DIGITAL:
            taken = kept.digitally_broken(random, fault, m, taken, way)
    taken = kept.within_span(m, taken, _leaves(tag))
    taken = kept.only_changes(kept.displayed(m, taken), way)
    pace = 1 if way.every >= kept.FINE else kept.FINE
    shown, between = at_pace(taken if pace > 1 else taken[:: kept.FINE], pace, way.step_s)
    wrong = {f.begin for f in tag.faults if f.kind == "step" and tag.shape in ("bench", "straight")}
    return Sensor(
        order, name, m, shown, records.truth(m, clean, tag.course, happened.running),
        grabs(random, order, place, tag.course, clock, happened),
        logbook(book, order, place, tag.lived, tag.slow, wrong),
        interval_days(order, place), tag.faults, _twin(random, tag, happened), way.step_s, between,
        way.heartbeat_s,
    )  # fmt: skip


def _twin(random: np.random.Generator, tag: _Tag, happened: Drivers) -> Floats | None:
    """Return what a near-duplicate of another make shows a little downstream; None if there is none."""
    ordered = [replace(fault, kind="drift") for fault in tag.faults if fault.kind == "twin"]
    if tag.order.reference != "twin" and not ordered:
        return None
    m, count = tag.place.measure, len(tag.course)
    order = replace(tag.order, is_serviced=True)
    lived = life(random, order, tag.place, happened.by["air"], happened.by["warm"], 0, 0)
    noise = kept.scatter(random, m, count * kept.FINE, 0)[:: kept.FINE] * random.lognormal(0.0, 0.4)
    working = tag.course + lived.slow + kept.apart(random, tag.place, count) + noise
    for fault in ordered:
        working = working + accrued(fault, m, np.arange(count, dtype=float), np.full(count, -np.inf))
    shown = kept.within_span(m, shown_as(m, working), False)
    if m.name == "flow":
        shown = np.where(happened.running, shown, 0.0)
    return np.where(happened.lost, np.nan, kept.displayed(m, shown))
