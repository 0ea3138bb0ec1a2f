"""Coverage: what the page says of readings and grabs that nobody could judge by."""

from dataclasses import replace

import polars as pl

from pipeline.facts import PAIRS, SAMPLES
from pipeline.report.sections.coverage import render
from pipeline.week import Week
from tests.report.harrow_fork import at
from tests.report.weeks import quiet_week

TAG = "AIT-131"


def _with_grabs(paired: tuple[int, ...], taken: tuple[int, ...] = (9, 10, 12), below: bool = False) -> Week:
    week = quiet_week()
    rows = [{"time": at(day, "08:00"), "value": 0.9, "below": below} for day in taken]
    pairs = [
        {"time": at(day, "08:00"), "day": at(day, "08:00").date(), "grab": 0.9, "reading": 0.9}
        for day in paired
    ]
    case = replace(
        week.cases[TAG], samples=pl.DataFrame(rows, schema=SAMPLES), pairs=pl.DataFrame(pairs, schema=PAIRS)
    )
    return replace(week, cases={**week.cases, TAG: case})


def test_grabs_that_were_compared_with_nothing_are_counted() -> None:
    """Nobody who carried a bottle to the bench should have to guess that it did not count."""
    assert f"compared with nothing: {TAG} (2 of 3)" in render(_with_grabs(paired=(10,)))


def test_nothing_is_said_where_every_grab_was_compared() -> None:
    assert "compared with nothing" not in render(_with_grabs(paired=(9, 10, 12)))


def test_results_below_a_limit_and_of_other_weeks_are_none_of_it() -> None:
    assert "compared with nothing" not in render(_with_grabs(paired=(), below=True))
    assert "compared with nothing" not in render(_with_grabs(paired=(), taken=(2, 17)))
