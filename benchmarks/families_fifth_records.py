"""Fifth family, records: scatter with a memory, recorders that average or keep only changes, broken records.

Everything is made every five minutes; a recorder then takes readings off, averages them, or keeps what
differs from the last kept by more than a dead band, and repeats itself by a heartbeat. Common practice, no
source.
"""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from benchmarks.families import Floats, Measure, memory, shown_as, working_of
from benchmarks.families_fifth import Place
from benchmarks.families_fifth_climate import Drivers
from benchmarks.families_third_records import broken
from benchmarks.faults import Fault

FINE_S, FINE = 300, 3
"""Seconds from reading to reading before a recorder has taken its part; readings a row of the grid."""

WAYS = (("plain", 900, 0.3), ("plain", 300, 0.15), ("plain", 3600, 0.05), ("mean", 900, 0.15),
        ("mean", 3600, 0.15), ("change", 900, 0.12), ("change", 300, 0.08))  # fmt: skip
OWN_SHARE = 0.2
"""Of the tags that are recorded in another way than the plant's."""

HEARTBEATS_S = (3600, 4 * 3600)
BANDS = (0.5, 3.0)  # of the instrument's own scatter
DAMPING_MINUTES = (2.0, 20.0)
BUBBLES_A_DAY, BUBBLE_SDS = 0.15, 3.0
DIGITAL = ("spikes", "resolution")
"""Faults on the way to the recorder or in it; the others are in its signal."""

SPIKES_A_DAY = 2.0


@dataclass(frozen=True)
class Recorder:
    """How one tag is kept: at which pace, averaged or not, past which dead band (0: every reading)."""

    way: str
    step_s: int
    band: float  # [unit]
    heartbeat_s: int | None

    @property
    def every(self) -> int:
        """Readings of five minutes to one of its own."""
        return self.step_s // FINE_S


PLAIN = Recorder("plain", 900, 0.0, None)


def recorder(random: np.random.Generator, measure: Measure, usual: int | None = None) -> tuple[Recorder, int]:
    """Draw how a tag is kept, usually the plant's `usual` way; return its number in `WAYS` as well."""
    if usual is None or random.random() < OWN_SHARE:
        usual = int(random.choice(len(WAYS), p=[share for _, _, share in WAYS]))
    way, step_s, _ = WAYS[usual]
    amount = measure.fast_sd * (measure.level if measure.is_log else 1.0)
    band = float(np.ceil(amount * random.uniform(*BANDS) / measure.resolution)) * measure.resolution
    heartbeat = int(random.choice(HEARTBEATS_S))
    if way != "change":
        return Recorder(way, step_s, 0.0, None), usual
    return Recorder(way, step_s, band, heartbeat), usual


def scatter(random: np.random.Generator, measure: Measure, count: int, swap: int) -> Floats:
    """Return an instrument's own scatter of `count` fine readings: another's from the row `swap` on."""
    made = _one_make(random, measure, count, 1.0)
    if swap:
        other = _one_make(random, measure, count, random.lognormal(0.0, 0.45))
        made[swap * FINE :] = other[swap * FINE :]
    return made


def _one_make(random: np.random.Generator, measure: Measure, count: int, gain: float) -> Floats:
    """Scatter damped by the transmitter, and now and then a bubble, to one side."""
    keep = float(np.exp(-FINE_S / 60.0 / random.uniform(*DAMPING_MINUTES)))
    fresh = random.standard_normal(count) * np.sqrt(1 - keep**2)
    bubbles = (random.random(count) < BUBBLES_A_DAY * FINE_S / 86400.0) * random.exponential(
        BUBBLE_SDS, count
    )
    damped = np.asarray(lfilter([1.0], [1.0, -keep], fresh))
    return measure.fast_sd * gain * (damped + random.choice([-1.0, 1.0]) * bubbles)


def handled(
    random: np.random.Generator, shown: Floats, plan: list[tuple[int, str]], measure: Measure
) -> Floats:
    """Put services into the trend: held, in the air for a while, or nothing to see."""
    shown = shown.copy()
    for row, kind in plan:
        part = slice(max(0, row - int(random.integers(1, 4))) * FINE, row * FINE)
        way = random.choice(["held", "air", "nothing"], p=[0.5, 0.25, 0.25]) if kind != "check" else "nothing"
        if way == "held" and part.start:
            shown[part] = shown[part.start - 1]
        if way == "air" and measure.name not in ("flow", "level", "pressure", "temperature"):
            shown[part] = shown[part] * random.uniform(0.6, 1.1)
    return shown


def switched(
    random: np.random.Generator, shown: Floats, other: Floats | None, held: int, turn: int
) -> Floats:
    """Hold a stream's value while the analyser is at the others; now and then one still holds of the last."""
    row = np.arange(len(shown))
    at = np.maximum(row - (row - turn) % held, 0)
    kept = shown[at].copy()
    if other is not None:
        carried = (np.abs(np.sin(at * 12.9898 + turn)) * 43758.5453) % 1.0 < 0.04
        share = random.uniform(0.1, 0.3)
        kept = np.where(carried, (1 - share) * kept + share * other[at], kept)
    return kept


def signal_broken(
    random: np.random.Generator,
    fault: Fault,
    shape: str,
    measure: Measure,
    shown: Floats,
    beside: Floats,
    happened: Drivers,
) -> Floats:
    """Return fine readings [unit] with a fault of the signal in them."""
    if shape not in ("wet cable", "dry well"):
        return broken(random, fault, measure, working_of(measure, shown), beside, FINE_S)
    part = slice(fault.begin * FINE, fault.end * FINE)
    if shape == "wet cable":
        wet = 0.15 + np.clip(np.repeat(happened.by["wet"], FINE)[part], 0.0, 1.5)
        noise = random.standard_normal(len(wet)) * wet * 1.5 * fault.size * measure.fast_sd
        made = shown_as(measure, working_of(measure, shown[part]) + noise)
    else:
        made = broken(random, fault, measure, shown, beside, FINE_S)[part]
        made = 0.9 * made + 0.1 * (measure.level + 14.0 * np.repeat(happened.by["air"], FINE)[part])
    out = shown.copy()
    out[part] = made
    return out


def kept_of(shown: Floats, way: Recorder) -> Floats:
    """Return fine readings as the recorder takes them off: nothing (NaN) between its own readings."""
    if way.way == "mean":
        known = np.isfinite(shown)
        total = np.cumsum(np.concatenate([np.zeros(way.every), np.where(known, shown, 0.0)]))
        number = np.cumsum(np.concatenate([np.zeros(way.every), known.astype(float)]))
        with np.errstate(invalid="ignore", divide="ignore"):
            shown = (total[way.every :] - total[: -way.every]) / (number[way.every :] - number[: -way.every])
    row = np.arange(len(shown))
    return np.where(row % way.every == 0, shown, np.nan)


def digitally_broken(
    random: np.random.Generator, fault: Fault, measure: Measure, kept: Floats, way: Recorder
) -> Floats:
    """Return kept readings [unit] with spikes, or rounded, from a fault's first row to its last."""
    row = np.arange(len(kept))
    active = (row >= fault.begin * FINE) & (row < fault.end * FINE)
    if fault.kind == "resolution":
        coarse = measure.resolution * fault.size
        return np.where(active, np.round(kept / coarse) * coarse, kept)
    hit = active & (random.random(len(kept)) < SPIKES_A_DAY * way.step_s / 86400.0)
    sizes = random.choice([-1.0, 1.0], len(kept)) * fault.size * 1.5 * measure.fast_sd
    return np.where(hit, shown_as(measure, working_of(measure, kept) + sizes), kept)


def only_changes(kept: Floats, way: Recorder) -> Floats:
    """Leave out what is within the dead band of the last kept, except for the heartbeat."""
    if not way.band:
        return kept
    at = np.flatnonzero(np.isfinite(kept))
    beats = way.heartbeat_s // FINE_S if way.heartbeat_s else 0
    told, last, since = [], np.inf, 0
    for row, value in zip(at.tolist(), kept[at].tolist(), strict=True):
        if abs(value - last) > way.band * 1.001 - 1e-9 or row - since >= beats:
            told.append(row)
            last, since = value, row
    out = np.full(len(kept), np.nan)
    out[told] = kept[told]
    return out


def within_span(measure: Measure, shown: Floats, may_leave_span: bool) -> Floats:
    """Return readings within the instrument's span."""
    return shown if may_leave_span else np.clip(shown, measure.low, measure.high)


def displayed(measure: Measure, shown: Floats) -> Floats:
    """Return readings to the resolution of the display."""
    step = measure.resolution
    return np.round(np.round(shown / step) * step, max(0, round(-np.log10(step))))


def apart(random: np.random.Generator, place: Place, count: int) -> Floats:
    """How far a near-duplicate a little downstream differs from the water of the first [working scale]."""
    return place.measure.tolerance * (random.uniform(-0.2, 0.2) + 0.08 * memory(random, count, 3.0))
