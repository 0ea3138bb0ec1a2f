"""Upkeep: what is due and when, the interval suggested, and never a longer one than the plan's."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import polars as pl
import pytest

from pipeline.clock import midnight
from pipeline.report.page import calibration_page
from pipeline.report.upkeep import due_row, due_soon, upkeep
from pipeline.table import CALIBRATIONS
from pipeline.week import Week
from tests.report.harrow_fork import ZONE
from tests.report.weeks import quiet_week

# The week ends on Sunday 15 November 2026.
LAST = date(2026, 10, 20)


def _log(device: str, errors: list[float], every_days: int, last: date = LAST) -> pl.DataFrame:
    """Return services whose as-found readings were off by `errors`, the newest last."""
    days = [last - timedelta(days=every_days * back) for back in range(len(errors) - 1, -1, -1)]
    numbers = {"reference": 1.0, "as_left": 1.0, "kind": "calibration", "instrument": device}
    rows = [
        {**numbers, "time": _at(day), "as_found": 1.0 + error}
        for day, error in zip(days, errors, strict=True)
    ]
    return pl.DataFrame(rows, schema=CALIBRATIONS)


def _at(day: date) -> datetime:
    return midnight(day, ZONE) + timedelta(hours=10)


def _week(plan_days: float | None, services: pl.DataFrame) -> Week:
    """Return a quiet week in which AE-131 (tolerance 0.1 mg/L) has these services."""
    week = quiet_week()
    device = week.plant.instruments["AE-131"].model_copy(update={"service_days": plan_days})
    case = replace(week.cases["AIT-131"], services=services, instrument=device)
    return replace(week, cases={**week.cases, "AIT-131": case})


def _row(week: Week) -> dict[str, str]:
    one = next(one for one in upkeep(week) if one.case.device == "AE-131")
    return due_row(week, one)


def test_due_is_the_plans_interval_after_the_last_service() -> None:
    week = _week(28.0, _log("AE-131", [0.01, -0.01, 0.01], 28))
    (one,) = due_soon(week, upkeep(week))
    assert (one.last, one.due) == (LAST, date(2026, 11, 17))
    row = _row(week)
    assert row["due"] == "Tue 17\N{NO-BREAK SPACE}Nov"
    assert row["held"] == "too few services on file to say"
    assert row["over"] == ""
    assert _row(_week(14.0, _log("AE-131", [0.0], 28)))["over"] == "overdue"


def test_nothing_due_within_a_fortnight_is_not_listed() -> None:
    week = _week(91.0, _log("AE-131", [0.01], 28))
    assert due_soon(week, upkeep(week)) == []
    assert 'id="due"' not in calibration_page(week)


def test_a_steady_instrument_keeps_the_plans_interval() -> None:
    row = _row(_week(28.0, _log("AE-131", [0.010, -0.010, 0.012, 0.009, -0.011, 0.010], 28)))
    assert row["suggested"] == "28\N{NO-BREAK SPACE}days"
    assert row["held"].startswith("the plan; its own record would bear ")
    assert "6 services found it up to +0.012" in row["found"]


def test_one_that_is_found_past_its_tolerance_again_and_again_wants_it_more_often() -> None:
    """0.09 to 0.15 mg/L off in 28 days against a tolerance of 0.1: the plan's 28 days are too long."""
    week = _week(28.0, _log("AE-131", [0.09, 0.12, 0.15, 0.11, 0.13, 0.12], 28))
    (one,) = due_soon(week, upkeep(week))
    assert one.is_shorter
    assert one.interval is not None
    assert one.interval.suggested_days < 24.0
    assert one.due == LAST + timedelta(days=one.interval.suggested_days)
    page = calibration_page(week)
    assert "what its own record bears" in page
    assert "for review by the licensed operator" in page


def test_guidance_holds_a_turbidimeter_without_a_plan() -> None:
    """Calibration at least quarterly (EPA turbidity guidance, from memory): 92 days at most."""
    week = quiet_week()
    steady = _log("AE-121", [0.001, -0.001, 0.001, 0.0, 0.001], 91)
    case = replace(week.cases["AIT-121"], services=steady)
    week = replace(week, cases={**week.cases, "AIT-121": case})
    one = next(one for one in upkeep(week) if one.case.device == "AE-121")
    assert one.interval is not None
    assert (one.interval.suggested_days, one.interval.held_by) == (92.0, "rule")


def test_what_a_rule_asks_for_in_between_is_said() -> None:
    # 40 CFR 141.74(a)(2): a grab at least every five days, or a protocol that the state approved.
    assert "every 5 days" in _row(_week(28.0, _log("AE-131", [0.01], 28)))["between"]


def test_fouling_and_calibration_are_told_apart_where_the_log_lets_them() -> None:
    log = _log("AE-131", [0.10], 28).with_columns(cleaned=1.03)
    found = _row(_week(28.0, log))["found"].replace("\N{NO-BREAK SPACE}", " ")
    assert "+0.070 mg/L of it was fouling and +0.030 mg/L calibration drift" in found


@pytest.mark.parametrize("kind", ["check", "calibration"])
def test_a_check_does_not_move_the_date(kind: str) -> None:
    log = _log("AE-131", [0.0, 0.0], 28, LAST)
    checked = log.with_columns(kind=pl.Series(["calibration", kind]))
    one = next(one for one in upkeep(_week(28.0, checked)) if one.case.device == "AE-131")
    assert one.last == (LAST if kind == "calibration" else LAST - timedelta(days=28))
