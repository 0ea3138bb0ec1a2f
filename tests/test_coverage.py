"""Coverage counted by hand and against a plain count over the record."""

from dataclasses import replace
from datetime import date

import numpy as np
import polars as pl
import pytest

from pipeline.clock import period_between
from pipeline.coverage import COVERAGE, coverage
from pipeline.facts import SAMPLES
from pipeline.table import conform

# 1 November 2026 has 25 hours in Denver, 8 March 23 (tz database): 100 and 92 quarter hours.
DAYS = {date(2026, 11, 1): 100, date(2026, 3, 8): 92, date(2026, 7, 14): 96}


def _row(make, case, first, last):
    table = coverage({"AIT-101": case}, period_between(first, last, make.zone))
    assert dict(table.schema) == COVERAGE
    return table.row(0, named=True)


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_a_whole_day_is_expected_to_have_the_quarter_hours_it_has(make, day):
    start = make.local(day.year, day.month, day.day)
    times = make.grid(start, DAYS[day] / 96)
    row = _row(make, make.case(make.frame(times, np.arange(len(times)) * 0.01)), day, day)
    assert row == {
        "tag": "AIT-101",
        "expected": DAYS[day],
        "present": DAYS[day],
        "good": DAYS[day],
        "coverage_pct": 100.0,
        "longest_gap_minutes": 0.0,
        "last_seen": times[-1],
    }


def test_bad_and_missing_are_told_apart(make):
    times = make.grid(make.local(2026, 7, 14), 1)
    keep = [k for k in range(96) if not 20 <= k < 30]
    frame = make.frame(times.gather(keep), np.array(keep) * 0.01, good=[not 30 <= k < 36 for k in keep])
    row = _row(make, make.case(frame), date(2026, 7, 14), date(2026, 7, 14))
    assert (row["expected"], row["present"], row["good"]) == (96, 86, 80)
    assert row["coverage_pct"] == pytest.approx(100 * 80 / 96)
    # The reading of 04:45 stands until 05:00; sixteen quarter hours are without a good one.
    assert row["longest_gap_minutes"] == 16 * 15


@pytest.mark.parametrize(("kept", "gap"), [(slice(8, 96), 120), (slice(0, 88), 120), (slice(0, 0), 1440)])
def test_the_edges_of_the_period_count_as_gaps_too(make, kept, gap):
    times = make.grid(make.local(2026, 7, 14), 1)
    frame = make.frame(times[kept], np.arange(len(times[kept])) * 0.01)
    case = make.case(frame, as_of=make.local(2026, 7, 15))
    row = _row(make, case, date(2026, 7, 14), date(2026, 7, 14))
    assert row["longest_gap_minutes"] == gap
    assert row["last_seen"] == (times[kept][-1] if len(times[kept]) else None)


def test_what_is_not_over_is_not_expected(make):
    times = make.grid(make.local(2026, 7, 14), 0.5)
    case = make.case(make.frame(times, np.arange(48) * 0.01), as_of=make.local(2026, 7, 14, 12))
    row = _row(make, case, date(2026, 7, 14), date(2026, 7, 20))
    assert (row["expected"], row["coverage_pct"]) == (48, 100.0)


def test_more_than_expected_is_not_more_than_all(make):
    times = make.grid(make.local(2026, 7, 14), 1, step_s=300)
    row = _row(
        make, make.case(make.frame(times, np.arange(288) * 0.01)), date(2026, 7, 14), date(2026, 7, 14)
    )
    assert (row["good"], row["coverage_pct"]) == (288, 100.0)


def test_a_value_recorded_on_change_covers_the_time_until_the_next(make):
    tag = make.tag(recording="on change")
    times = make.grid(make.local(2026, 7, 14), 1, step_s=43_200)
    row = _row(make, make.case(make.frame(times, [1.0, 0.0]), tag=tag), date(2026, 7, 14), date(2026, 7, 14))
    assert (row["present"], row["coverage_pct"]) == (2, 100.0)


def test_of_what_only_the_lab_measures_no_reading_is_expected(make):
    """BOD takes five days at the bench (40 CFR 136, BOD5): no instrument records it."""
    results = pl.DataFrame({"time": [make.local(2026, 7, 13)], "value": [17.0]})
    case = make.case(make.frame(make.grid(make.local(2026, 7, 14), 1), np.arange(96) * 0.01))
    samples = conform(results.with_columns(below=pl.lit(False)), SAMPLES)
    lab = replace(case, instrument=None, readings=case.readings.clear(), samples=samples)
    row = _row(make, lab, date(2026, 7, 14), date(2026, 7, 14))
    assert row["expected"] == 0
    assert row["coverage_pct"] is None
    assert row["longest_gap_minutes"] is None
    # An analyser that never spoke stays silent, however many grabs back it up.
    backed = _row(make, replace(lab, instrument=make.instrument()), date(2026, 7, 14), date(2026, 7, 14))
    assert backed["longest_gap_minutes"] == 1440
