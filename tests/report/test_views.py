"""Views: a finding is drawn against what it rests on."""

from dataclasses import replace
from datetime import date, timedelta

import polars as pl
import pytest

from pipeline.case import Relation
from pipeline.facts import RELATION_DAYS
from pipeline.finding import Finding
from pipeline.report.charts import chart
from pipeline.report.views import excursion_view, finding_view
from pipeline.week import Week
from tests.report.findings import CHLORINE_DRIFT, PH_FROZEN
from tests.report.weeks import full_week

LAST = date(2026, 11, 15)


def _week(tag: str, reference: str, is_share: bool = False) -> Week:
    """Return the troubled week in which `tag` has been off by 0.3 for twenty of forty days."""
    week = full_week()
    days = [LAST - timedelta(days=39 - k) for k in range(40)]
    off = [0.3 if k >= 20 else 0.0 for k in range(40)]
    table = pl.DataFrame({"day": days, "difference": off, "allowed": [0.2] * 40}, schema=RELATION_DAYS)
    case = week.cases[tag]
    relation = Relation(reference, table, (case,), "one water", is_share)
    return replace(week, cases={**week.cases, tag: replace(case, relations=(relation,))})


def _disagrees(finding: Finding, reference: str) -> Finding:
    return replace(finding, kind="disagrees", reference=reference)


def test_a_disagreement_is_drawn_as_the_difference_with_the_tolerances_around_nothing() -> None:
    week = _week("AIT-132", "twin AIT-131")
    view = finding_view(week, replace(_disagrees(PH_FROZEN, "twin AIT-131"), estimate=0.3))
    assert view is not None
    assert [value for _, value in view.curves[0].points] == [0.0] * 20 + [0.3] * 20
    assert (view.bands[0].low, view.bands[0].high, view.unit) == (-0.2, 0.2, "pH")
    assert "twin AIT-131" in view.title


@pytest.mark.parametrize(("tag", "is_share"), [("AIT-121", False), ("LIT-131", True)])
def test_shares_are_drawn_in_per_cent(tag: str, is_share: bool) -> None:
    """A turbidity's error is a share of the reading: a logarithm of 0.3 is 30 %, as the evidence says."""
    week = _week(tag, "water balance Clearwell", is_share)
    view = finding_view(week, replace(_disagrees(CHLORINE_DRIFT, "water balance Clearwell"), tag=tag))
    assert view is not None
    assert view.unit == "%"
    assert view.curves[0].points[-1][1] == pytest.approx(30.0)
    assert view.bands[0].high == pytest.approx(20.0)


def test_grabs_and_the_record_itself_are_drawn_as_before() -> None:
    week = full_week()
    by_grab, frozen = finding_view(week, CHLORINE_DRIFT), finding_view(week, PH_FROZEN)
    assert by_grab is not None
    assert frozen is not None
    assert by_grab.title.endswith("less lab grab")
    assert frozen.title.endswith("as recorded")


def test_what_is_recorded_on_change_is_drawn_as_it_stood() -> None:
    """A level written down only when it moves: every step of its excursion has the value that stood."""
    week = full_week()
    case = week.cases["LIT-131"]
    every = case.readings
    changes = every.filter(pl.int_range(pl.len()) % 20 == 0)
    stood = changes.select("time", "value").rename({"value": "stood"})
    stepped = every.join_asof(stood, on="time").with_columns(value="stood").drop("stood")
    on_change = replace(case, readings=changes, stepped=stepped)
    excursion = next(one for one in week.excursions if one.limit.tag == "LIT-131")
    view = excursion_view(replace(week, cases={**week.cases, "LIT-131": on_change}), excursion)
    assert view is not None
    drawn = [value for _, value in view.curves[0].points]
    assert None not in drawn
    assert len(drawn) == every.filter(pl.col("time").is_between(view.start, view.end, closed="left")).height


def test_what_is_of_uncertain_quality_is_drawn_hollow_and_said_so() -> None:
    """An excursion of which the display showed `>4` for an hour: no hole, and not a reading like others.

    Shape tells without colour (WCAG 2.2, 1.4.1 Use of Color).
    """
    week = full_week()
    excursion = next(one for one in week.excursions if one.limit.tag == "LIT-131")
    case = week.cases["LIT-131"]
    hour = pl.col("time").is_between(excursion.start, excursion.start + timedelta(hours=1), closed="left")
    no_good = {name: pl.when(hour).then(False).otherwise(name).alias(name) for name in ("good", "usable")}
    marked = replace(
        case,
        readings=case.readings.with_columns(no_good.values()),
        uncertain=case.readings.filter(hour)["time"],
    )
    view = excursion_view(replace(week, cases={**week.cases, "LIT-131": marked}), excursion)
    assert view is not None
    line, rings = view.curves[0], next(one for one in view.curves if one.look == "uncertain")
    assert [time for time, _ in rings.points] == case.readings.filter(hour)["time"].to_list()
    assert not {time for time, value in line.points if value is not None} & {time for time, _ in rings.points}
    page = str(chart(view))
    assert page.count('class="dot uncertain"') == len(rings.points)
    assert '"symbol":"circle-open"' in page
    assert "uncertain quality: told only where outside" in page
