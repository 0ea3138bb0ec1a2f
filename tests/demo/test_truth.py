"""The truth agrees with the exported numbers, read back with the plainest rule there is."""

from collections.abc import Callable
from datetime import datetime
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import polars as pl
import pytest

from pipeline.demo.calendar import Calendar
from pipeline.demo.readings import healthy_readings
from pipeline.demo.script import FAULTS, LIFT_TAGS, WELL_TAGS
from pipeline.demo.service import stretches
from pipeline.demo.sheets import Sheets, rows
from pipeline.demo.water import Signals

Reader: TypeAlias = Callable[[str], pl.DataFrame]

# limit, tag, side, first stamp outside, first stamp back inside: the history as told
TOLD = [
    ("IFE-123", "AIT-123", "2026-11-11T13:15", "2026-11-11T15:00"),
    ("LIFT-404", "LIT-404", "2026-11-12T09:15", "2026-11-12T11:30"),
    ("LIFT-404", "LIT-404", "2026-11-12T15:15", "2026-11-12T16:00"),
    ("CL2-LOW", "AIT-131", "2026-11-14T02:00", "2026-11-14T05:30"),
]


def episodes(times: list[datetime], outside: list[bool]) -> list[tuple[datetime, datetime]]:
    """Walk through samples; each stands until the next one."""
    found: list[tuple[datetime, datetime]] = []
    start: datetime | None = None
    for time, beyond in zip(times, outside, strict=True):
        if beyond and start is None:
            start = time
        elif not beyond and start is not None:
            found.append((start, time))
            start = None
    assert start is None
    return found


def settled(times: list[datetime], state: list[float], value: float, minutes: float) -> list[bool]:
    since: datetime | None = None
    found = []
    for time, now in zip(times, state, strict=True):
        since = (since or time) if now == value else None
        found.append(since is not None and (time - since).total_seconds() >= 60 * minutes)
    return found


def test_excursions_of_the_last_week(paper: Reader, last_week: pl.DataFrame) -> None:
    truth = paper("truth/excursions.csv").filter(pl.col("start") >= "2026-11-09")
    times = last_week["Time"].to_list()
    told = {(limit, tag, f"{start}:00-07:00", f"{end}:00-07:00") for limit, tag, start, end in TOLD}
    told.add(("EFF-FLOW", "FIT-541", "2026-11-12T00:00:00-07:00", "2026-11-13T00:00:00-07:00"))
    assert set(truth.select("limit_id", "tag", "start", "end").rows()) == told
    high = last_week["LIT-404"].to_list()
    assert [(str(a)[:16], str(b)[:16]) for a, b in episodes(times, [v > 9.0 for v in high])] == [
        ("2026-11-12 09:15", "2026-11-12 11:30"),
        ("2026-11-12 15:15", "2026-11-12 16:00"),
    ]
    low = last_week["AIT-131"].to_list()
    assert [str(a) for a, _ in episodes(times, [v < 0.5 for v in low])] == ["2026-11-14 02:00:00"]
    assert min(low) > 0.25


def test_minutes_are_the_difference_of_the_stamps(paper: Reader) -> None:
    truth = paper("truth/excursions.csv")
    assert truth.height >= 10
    for start, end, minutes in truth.select("start", "end", "minutes").rows():
        length = datetime.fromisoformat(end) - datetime.fromisoformat(start)
        assert length.total_seconds() == 60 * int(minutes)


def test_filter_3_breaks_through_while_it_filters(last_week: pl.DataFrame) -> None:
    times = last_week["Time"].to_list()
    valid = settled(times, last_week["YS-123"].to_list(), 1.0, 45)
    beyond = [v > 0.3 and ok for v, ok in zip(last_week["AIT-123"].to_list(), valid, strict=True)]
    assert [(str(a), str(b)) for a, b in episodes(times, beyond)] == [
        ("2026-11-11 13:15:00", "2026-11-11 15:00:00")
    ]
    running = valid[times.index(datetime(2026, 11, 11, 1)) : times.index(datetime(2026, 11, 11, 15))]
    assert all(running)


def test_nothing_else_is_beyond_a_limit(last_week: pl.DataFrame) -> None:
    """Every instantaneous limit, unmasked: no ripening spike and no drift may add an excursion."""
    told = {(limit, tag) for limit, tag, _, _ in TOLD}
    for limit in rows("limits.csv"):
        values = last_week[limit["tag"]].drop_nulls() if limit["tag"] in last_week.columns else None
        if limit["period"] != "week" or values is None or (limit["limit_id"], limit["tag"]) in told:
            continue
        assert values.min() >= float(limit["low"] or "-inf"), limit["limit_id"]  # type: ignore[operator]
        assert values.max() <= float(limit["high"] or "inf"), limit["limit_id"]  # type: ignore[operator]


def test_the_feed_fails_before_the_chlorine_falls(last_week: pl.DataFrame) -> None:
    feed = last_week.filter(pl.col("FIT-132") < 0.5)["Time"]
    chlorine = last_week.filter(pl.col("AIT-131") < 0.5)["Time"]
    assert 60 <= (chlorine[0] - feed[0]).total_seconds() / 60 <= 180


def test_effluent_flow_is_clear_of_its_permit_number(last_week: pl.DataFrame) -> None:
    daily = last_week.group_by_dynamic("Time", every="1d").agg(pl.col("FIT-541").mean())["FIT-541"].to_list()
    assert [value > 0.9 for value in daily] == [False] * 3 + [True] + [False] * 3
    assert min(abs(value - 0.9) for value in daily) > 0.15


def test_only_told_kinds_in_the_last_week(paper: Reader) -> None:
    truth = paper("truth/faults.csv").filter(pl.col("end") > "2026-11-09T00:00:00-07:00")
    assert set(truth["kind"]) == {"drift", "frozen", "gap", "out_of_range"}


def test_frozen_tank(last_week: pl.DataFrame) -> None:
    during = last_week.filter(
        pl.col("Time").is_between(datetime(2026, 11, 12, 16), datetime(2026, 11, 13, 11), closed="left")
    )
    assert during.height == 19 * 4
    assert during["LIT-302"].n_unique() == 1
    assert during["LIT-301"].n_unique() > 40


def test_missing_and_impossible_readings(last_week: pl.DataFrame) -> None:
    assert last_week["TIT-131"].null_count() == 9 * 4
    assert last_week.filter(pl.col("TIT-541") > 40).height == 10
    others = [name for name in last_week.columns if name not in ("TIT-131", "Time")]
    assert sum(last_week[name].null_count() for name in others) == 0


def test_wells_are_silent_for_five_hours(trend: Reader) -> None:
    table = trend("wells-2026-W46.csv").filter(pl.col("Quality") != "24")
    for name in ("Well 1 flow", "LIT-202", "AIT-201"):
        stamps = [datetime.fromisoformat(text) for text in table.filter(pl.col("Tag") == name)["Time"]]
        steps = [(b - a).total_seconds() / 60 for a, b in pairwise(stamps)]
        assert sorted(steps)[-2:] == [15.0, 5 * 60 + 15.0]


@pytest.mark.parametrize(("tag", "rate"), [("AIT-131", -0.035), ("AIT-541", 0.05)])
def test_grabs_show_the_drift(paper: Reader, trend: Reader, tag: str, rate: float) -> None:
    """Least squares over analyser minus grab recovers the told rate within what lab noise allows (3 se)."""
    truth = paper("truth/faults.csv").filter((pl.col("tag") == tag) & (pl.col("kind") == "drift"))
    assert float(truth["rate_per_week"][-1]) == pytest.approx(rate, abs=1e-9)
    start = datetime.fromisoformat(truth["start"][-1]).replace(tzinfo=None)
    weeks, gaps = [], []
    for when, grab in _grabs(paper, tag):
        if when > start:
            weeks.append((when - start).total_seconds() / 604_800)
            gaps.append(_reading(trend, tag, when) - grab)
    spread = float(np.sum((np.array(weeks) - np.mean(weeks)) ** 2))
    slope = float(np.polyfit(weeks, gaps, 1)[0])
    assert abs(slope - rate) < 3 * 0.045 / spread**0.5


def _grabs(paper: Reader, tag: str) -> list[tuple[datetime, float]]:
    tables = [paper(f"lab/lab-2026-{month:02d}.csv") for month in (9, 10, 11)]
    found = pl.concat(tables).filter(pl.col("tag") == tag)
    return [(datetime.fromisoformat(t), float(v)) for t, v in found.select("time", "value").rows()]


def _reading(trend: Reader, tag: str, when: datetime) -> float:
    name = {"AIT-131": "Entry chlorine", "AIT-541": "Effluent pH"}[tag]
    file = {"AIT-131": "water", "AIT-541": "wastewater"}[tag]
    year, week, _ = when.isocalendar()
    table = trend(f"{file}-{year}-W{week:02d}.csv")
    quarter = when.replace(minute=when.minute // 15 * 15).strftime("%m/%d/%Y %H:%M")
    return float(table.filter(pl.col("Time") == quarter)[name][0])


def test_a_drifting_instrument_was_serviced_just_before(paper: Reader) -> None:
    log = paper("logbook/calibrations.csv")
    for instrument, onset in (("AE-131", "2026-10-05"), ("AE-541", "2026-09-21"), ("AE-102", "2026-09-21")):
        last = log.filter(pl.col("instrument") == instrument)["time"].max()
        gap = datetime.fromisoformat(onset) - datetime.fromisoformat(str(last)[:10])
        assert 0 <= gap.days <= 7


def test_visits_to_one_instrument_are_a_fortnight_apart(paper: Reader) -> None:
    log = paper("logbook/calibrations.csv").sort("instrument", "time")
    for _, visits in log.group_by("instrument"):
        times = [datetime.fromisoformat(when) for when in visits["time"]]
        assert all((later - earlier).days >= 14 for earlier, later in pairwise(times))


def test_the_finished_ph_drift_shows_in_the_log(paper: Reader) -> None:
    log = paper("logbook/calibrations.csv")
    visit = log.filter((pl.col("instrument") == "AE-132") & (pl.col("time") == "2026-04-20T10:00"))
    assert float(visit["as_found"][0]) - float(visit["reference"][0]) == pytest.approx(0.34, abs=0.03)
    assert float(visit["as_left"][0]) - float(visit["reference"][0]) == pytest.approx(0.0, abs=0.02)


def test_whole_areas_fall_silent(sheets: Sheets) -> None:
    assert {sheets.tags[tag].area for tag in WELL_TAGS} == {"wells"}
    assert set(WELL_TAGS) == {tag.tag for tag in sheets.tags.values() if tag.area == "wells"}
    assert set(LIFT_TAGS) == {tag.tag for tag in sheets.tags.values() if tag.area == "lift"}


def test_faults_of_one_tag_do_not_overlap() -> None:
    spans = sorted((tag, fault.start, fault.end) for fault in FAULTS for tag in fault.tags)
    for (tag, _, end), (other, start, _) in pairwise(spans):
        assert tag != other or end <= start


@pytest.mark.parametrize("seed", [1, 2])
def test_healthy_readings_stay_inside_their_span(
    calendar: Calendar, sheets: Sheets, water: Signals, seed: int
) -> None:
    for tag in sheets.tags.values():
        assert tag.low <= water[tag.tag].min(), tag.tag
        assert water[tag.tag].max() <= tag.high, tag.tag
    shown = healthy_readings(seed, calendar, sheets, water)
    assert not any(np.isnan(values).any() for values in shown.values())


def test_healthy_drift_stays_within_two_fifths_of_tolerance(sheets: Sheets) -> None:
    strayed = [
        abs(stretch.strayed)
        for seed in range(1, 6)
        for instrument in sheets.instruments.values()
        for stretch in stretches(seed, instrument, "2025-09-22T00:00:00")
    ]
    assert max(strayed) <= 0.40
    assert np.median(strayed) > 0.03  # an instrument that never strays would be no test
