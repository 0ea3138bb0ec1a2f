"""Excursions: what the allowance of a limit covers is on the page and in the table, and asks nobody."""

from dataclasses import replace

from pipeline.report.needs import needs
from pipeline.report.sections.excursions import render
from pipeline.report.tables import tables
from pipeline.report.verdict import judge
from pipeline.result import Excursion
from pipeline.week import Week
from tests.report.harrow_fork import at
from tests.report.weeks import quiet_week

USED = "90 of 446 min, Nov 2026, so far"


def _week() -> tuple[Week, Excursion]:
    """Effluent pH above 9 for 90 min of a month that may have 446 (40 CFR 401.17, from memory)."""
    week = quiet_week()
    result = next(r for r in week.limits if r.limit.limit_id == "EFF-PH")
    limit = result.limit
    one = Excursion(limit, at(12, "02:00"), at(12, "03:30"), 90, 9.3, at(12, "02:15"), 20, "pH")
    return replace(week, excursions=(replace(one, allowance=USED),)), one


def test_it_is_told_beneath_as_no_exceedance() -> None:
    week, one = _week()
    page = " ".join(render(week).replace("\N{NO-BREAK SPACE}", " ").split())
    assert "No limit was exceeded in what could be assessed." in page
    assert "Possible exceedances" not in page
    assert one.excursion_id in page and USED in page and "for the record, no exceedance" in page


def test_it_asks_for_nothing_and_is_not_counted() -> None:
    week, _ = _week()
    assert needs(week) == needs(quiet_week()) == []
    assert judge(week).counts["excursions"] == 0


def test_it_stays_in_the_table_as_any_other() -> None:
    week, one = _week()
    assert tables(week)["excursions.csv"] == tables(replace(week, excursions=(one,)))["excursions.csv"]
    assert one.excursion_id in tables(week)["excursions.csv"]
