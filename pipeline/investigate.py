"""Investigate: upsets of a stretch of time, each looked into; reads what that needs and no more."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.archive.trends import first_and_last
from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.load import Plant
from pipeline.errors import UsageError
from pipeline.facts import SAMPLES
from pipeline.finding import SEVERITIES, Finding
from pipeline.gather import gather_window
from pipeline.logbook.book import Logbook, read_logbook
from pipeline.shapes import Shapes, measured, shapes
from pipeline.table import conform
from pipeline.upsets.doubt import doubt
from pipeline.upsets.grid import SLOT, grid_between, usual_of
from pipeline.upsets.group import LONGEST, Event, Upset, upsets
from pipeline.upsets.inquiry import Alike, Inquiry, Wave, drawn, switches_of, window_of
from pipeline.upsets.movers import Order, order
from pipeline.upsets.moves import LEARN as MOVES_LEARN
from pipeline.upsets.moves import moves
from pipeline.upsets.path import Path, path_of
from pipeline.upsets.similar import LEAD, WINDOW, best, scores
from pipeline.upsets.switches import LEARN as SWITCHES_LEARN
from pipeline.upsets.switches import switches
from pipeline.upsets.touched import touched
from pipeline.upsets.unjudged import unjudged
from pipeline.upsets.usual import LOOK_BACK_DAYS

LOOK_BACK = timedelta(days=14)
"""Upsets are looked for from so long before a period on, so that one which goes on has its beginning."""
LEARN = MOVES_LEARN * SLOT + timedelta(days=1)
PAST = max(timedelta(days=LOOK_BACK_DAYS), 2 * SWITCHES_LEARN)
"""Record that the usual course of a window rests on."""
DAY = timedelta(days=1)
MOST_DRAWN = 16
MOST_DOSSIERS = 8
MOST_ALIKE = 5
WAVES = 4


@dataclass(frozen=True)
class Scene:
    """What investigating a period rests on: departures and records, read once for all its upsets."""

    plant: Plant
    logbook: Logbook
    path: Path
    shapes: Shapes
    cases: dict[str, Case]
    as_of: datetime


def scene(plant: Plant, logbook: Logbook, start: datetime, as_of: datetime) -> Scene:
    """Read what is needed to look into upsets between `start` and `as_of`."""
    book = logbook.until(as_of)
    found = shapes(plant, logbook, measured(plant), start - LOOK_BACK - LEARN - 2 * DAY, as_of)
    cases = gather_window(plant, book, start - LOOK_BACK - PAST, as_of, plant.tags)
    return Scene(plant, book, path_of(plant.file), found, _with_grabs(book, cases), as_of)


def upsets_of(
    plant: Plant,
    period: Period,
    as_of: datetime,
    findings: Collection[Finding],
    most_drawn: int = MOST_DOSSIERS,
) -> tuple[Inquiry, ...]:
    """Return the upsets of a period, as known at `as_of`, by their beginning.

    The most pressing are ready to be drawn.
    """
    book, _ = read_logbook(plant)
    of = scene(plant, book, period.start, as_of)
    found = happened(of, period)
    ranked = sorted(found, key=lambda one: (SEVERITIES.index(one.severity), -len(one.tags), one.start))
    chosen = {one.upset_id for one in ranked[:most_drawn]}
    return tuple(
        with_alike(of, look_into(of, one, findings))
        if one.upset_id in chosen
        else look_into(of, one, findings, most_drawn=0)
        for one in found
    )


def happened(of: Scene, period: Period) -> list[Upset]:
    """Return the upsets that overlap a period, as known at the scene's end."""
    look = Period(period.label, period.start - LOOK_BACK, min(period.end, of.as_of), period.zone)
    every = upsets([*_moves(of, look), *_excursions(of, look), *_switches(of, look)], of.path)
    return [one for one in every if one.start < period.end and one.end > period.start]


def _moves(of: Scene, look: Period) -> list[Event]:
    # A bar holds for a day: the same day from wherever the record is looked at, or ids would change.
    grid, found = of.shapes.grid.from_midnight(look.zone), []
    before = np.full(grid.count - of.shapes.grid.count, np.nan)
    for name in of.shapes.tags:
        area = of.plant.tags[name].area
        for move in moves(np.append(before, of.shapes.sd(name)), max(grid.at(look.start), len(before))):
            edges = (grid.time(move.start), grid.time(move.end), grid.time(move.crossed + 1))
            peak_at = grid.time(move.peak_at)
            found.append(
                Event(name, area, of.path.plant_of[area], *edges, move.peak, peak_at, lasting=move.lasting)
            )
    return found


def _excursions(of: Scene, look: Period) -> list[Event]:
    found = []
    for one, crossed in touched(of.plant.limits, of.cases, look):
        area = of.plant.tags[one.limit.tag].area
        side = of.path.plant_of[area]
        found.append(Event(one.limit.tag, area, side, one.start, one.end, crossed, 0.0, one.worst_at, one))
    return found


def _switches(of: Scene, look: Period) -> list[Event]:
    """Return what was switched out of the ordinary: known at once, or when a state was clearly overdue."""
    found = []
    for one in switches(of.cases.values(), look.start, look.end):
        if one.is_rare:
            crossed = one.time + timedelta(minutes=one.overdue_known_minutes)
            area, side = one.area, of.path.plant_of[one.area]
            end = min(one.time + timedelta(minutes=one.overdue_minutes), one.time + LONGEST)
            event = Event(one.tag, area, side, one.time, end, crossed, 0.0, one.time, is_switch=True)
            found.append(replace(event, stands_alone=one.is_twice_the_longest))
    return found


def look_into(
    of: Scene, upset: Upset, findings: Collection[Finding], most_drawn: int = MOST_DRAWN
) -> Inquiry:
    """Return all that is known of an upset.

    Parameters
    ----------
    findings : collection of Finding
        Of any instrument; those in the window count.
    """
    start, end = window_of(upset, of.as_of)
    tags = [name for name, tag in of.plant.tags.items() if of.path.plant_of[tag.area] == upset.plant]
    areas = {name: of.plant.tags[name].area for name in tags}
    known = {name: of.shapes.sd(name) for name in of.shapes.tags if name in areas}
    moved = order(upset, known, areas, of.shapes.grid, of.path)
    shown = drawn(moved, upset, of.cases, most_drawn)
    return _inquiry(of, upset, moved, (start, end), tags, shown, findings)


def look_at(of: Scene, start: datetime, end: datetime, tags: Sequence[str]) -> Inquiry:
    """Return what is known of any window: the tags asked for, without a judgement of who was first."""
    shown = [name for name in tags if not of.plant.tags[name].is_state]
    return _inquiry(of, None, Order((), ()), (start, end), list(tags), shown[:MOST_DRAWN], ())


def _inquiry(
    of: Scene,
    upset: Upset | None,
    moved: Order,
    window: tuple[datetime, datetime],
    tags: list[str],
    shown: list[str],
    findings: Collection[Finding],
) -> Inquiry:
    """Put together what is known of a window; `shown` are drawn, with their usual course."""
    start, end = window
    cases = {name: of.cases[name] for name in tags}
    every = switches(cases.values(), start, end)
    at = switches_of(cases, every, [*shown, *(upset.tags if upset else ())])
    near = [one for one in at if upset and upset.start - timedelta(hours=2) <= one.time <= upset.end]
    wide = grid_between(start - PAST, end)
    here = [one for one in findings if one.start < end and (one.end is None or one.end > start)]
    grabs, services, maintenance = written(of, tags, start, end)
    return Inquiry(
        *(start, end, of.plant.zone, of.path, upset, moved, tuple(at)),
        doubt(upset, moved, near, here, cases, of.path) if upset else None,
        cases,
        {name: usual_of(cases[name], wide, start) for name in shown},
        grabs,
        services,
        maintenance,
        findings=tuple(one for one in here if one.tag in tags),
        unjudged=tuple(unjudged(upset, cases, of.plant.states, every) if upset else ()),
    )


def written(
    of: Scene, tags: Sequence[str], start: datetime, end: datetime
) -> tuple[pl.DataFrame, pl.DataFrame, pl.DataFrame]:
    """Return grabs, services and maintenance windows of some tags, their instruments and areas."""
    inside = pl.col("time").is_between(start, end, closed="left")
    devices = [of.plant.tags[name].instrument for name in tags]
    subjects = [*tags, *devices, *sorted({of.plant.tags[name].area for name in tags})]
    going_on = (pl.col("start") < end) & (pl.col("end").is_null() | (pl.col("end") > start))
    book = of.logbook
    return (
        book.grabs.filter(inside & pl.col("tag").is_in(tags)).sort("time", "tag"),
        book.calibrations.filter(inside & pl.col("instrument").is_in(devices)).sort("time", "instrument"),
        book.maintenance.filter(going_on & pl.col("subject").is_in(subjects)).sort("start", "subject"),
    )


def _with_grabs(book: Logbook, cases: dict[str, Case]) -> dict[str, Case]:
    grabs = book.grabs.sort("time")
    return {
        name: replace(case, samples=conform(grabs.filter(pl.col("tag") == name), SAMPLES))
        for name, case in cases.items()
    }


def with_alike(of: Scene, inquiry: Inquiry, only_before: bool = True) -> Inquiry:
    """Return the inquiry with the windows of the whole archive that look most like it."""
    tags = [name for name in inquiry.cases if name in of.shapes.tags]
    whole = shapes(of.plant, of.logbook, tags, end=of.as_of)
    begin = inquiry.upset.start if inquiry.upset else inquiry.start
    at = whole.grid.at(begin) - LEAD
    if at < 0 or at + WINDOW // 4 > whole.grid.count:
        return inquiry
    sought = _cut(whole, at)
    every = scores(sought, whole.tenths)
    if only_before:
        every = every[: max(at - WINDOW, 0)]
    matches = best(every, MOST_ALIKE, without=(at,))
    alike = tuple(
        Alike(whole.grid.time(one.at + LEAD), one.score, _log(of, whole.grid.time(one.at), tags))
        for one in matches
    )
    waves = _waves(whole, sought, matches[0].at) if matches else ()
    return replace(inquiry, alike=alike, waves=waves)


def _cut(whole: Shapes, at: int) -> NDArray[np.float32]:
    part = whole.tenths[:, at : at + WINDOW]
    short = np.full((len(whole.tags), WINDOW - part.shape[1]), -128, np.int8)
    joined = np.concatenate([part, short], axis=1)
    return np.where(joined == -128, np.nan, joined * 0.1).astype(np.float32)


def _waves(whole: Shapes, sought: NDArray[np.float32], at: int) -> tuple[Wave, ...]:
    then = _cut(whole, at)
    size = np.nansum(np.nan_to_num(sought) ** 2, axis=1)
    chosen = np.argsort(-size, kind="stable")[:WAVES]
    pairs = [(whole.tags[k], sought[k], then[k]) for k in chosen if size[k] > 0]
    return tuple(Wave(tag, now.astype(np.float64), was.astype(np.float64)) for tag, now, was in pairs)


def _log(of: Scene, start: datetime, tags: list[str]) -> tuple[str, ...]:
    """Return what the logbook says of a day."""
    _, services, maintenance = written(of, tags, start, start + WINDOW * SLOT)
    told = [
        f"{subject}: {note or 'maintenance'}"
        for subject, note in maintenance.select("subject", "note").iter_rows()
    ]
    told += [f"{device}: {kind}" for device, kind in services.select("instrument", "kind").iter_rows()]
    return tuple(dict.fromkeys(told))


def upset_named(plant: Plant, logbook: Logbook, upset_id: str) -> tuple[Scene, Upset]:
    """Return an upset by its id.

    Raises
    ------
    UsageError
        There is none of that id.
    """
    when = upset_id.rpartition(".")[2]
    try:
        start = datetime.strptime(when + "+0000", "%Y-%m-%dT%H%MZ%z")
    except ValueError:
        raise UsageError(f"{upset_id!r} is not the id of an upset; see `stillwell upset list`") from None
    as_of = min(start + timedelta(days=5), _end(plant))
    of = scene(plant, logbook, start, as_of)
    found = happened(of, Period(upset_id, start - DAY, as_of, plant.zone))
    for one in found:
        if one.upset_id == upset_id:
            return of, one
    near = ", ".join(one.upset_id for one in found) or "none"
    raise UsageError(f"there is no upset {upset_id!r}; about that time: {near}")


def _end(plant: Plant) -> datetime:
    known = first_and_last(plant.archive)
    if known is None:
        raise UsageError("the archive holds nothing; run `stillwell ingest`")
    return known[1] + timedelta(minutes=15)
