"""Needs: most pressing first, and nothing that could not be judged is left out."""

from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest

from pipeline.facts import SPANS
from pipeline.report.needs import Need, needs
from pipeline.report.page import calibration_page, weekly_page
from pipeline.result import Doubt
from tests.report.findings import PH_FROZEN
from tests.report.harrow_fork import PERIOD, at
from tests.report.weeks import empty_week, full_week, quiet_week


def test_excursions_come_first_and_ask_whether_they_were_reported() -> None:
    found = needs(full_week())
    outside = [need for need in found if need.tone == "outside"]
    assert found[: len(outside)] == outside
    assert len(outside) == 5
    own = {limit.name for limit in full_week().plant.limits.values() if "own" in limit.source}
    asked = [need.subject for need in outside if "already reported?" in need.ask]
    assert sorted(asked) == sorted({need.subject for need in outside} - own)
    assert all("for review" in need.ask.lower() for need in outside)


def test_what_may_have_to_be_reported_stands_before_the_plant_s_own_of_the_same_severity() -> None:
    week = full_week()
    limits = {limit.name: limit for limit in week.plant.limits.values()}
    told = [limits[need.subject] for need in needs(week) if need.tone == "outside"]
    order = [(("act", "watch", "note").index(limit.severity), "own" in limit.source) for limit in told]
    assert order == sorted(order) and len(set(order)) > 2


@pytest.mark.parametrize(("weeks", "count"), [(52, 0), (3, 1)])
def test_a_year_that_began_before_the_record_only_has_to_pass(weeks: int, count: int) -> None:
    """Three weeks are recorded before the week: of a year nothing can be said yet, and nobody can mend it."""
    week = quiet_week()
    begun = PERIOD.end - timedelta(weeks=weeks)
    told = [
        replace(r, status="not assessable", period_start=begun) if r.limit.limit_id == "PH-FIN" else r
        for r in week.limits
    ]
    assert len(needs(replace(week, limits=tuple(told)))) == count


def test_the_furthest_of_two_records_on_end_is_the_furthest() -> None:
    """A pair of 1.387 and 1.384 is judged by 1.384; furthest out stood 1.387, as the excursion has it."""
    week = full_week()
    result = next(r for r in week.limits if r.excursions and not r.bounds and r.high is not None)
    worst = result.excursions[0].worst
    lesser = replace(
        result,
        worst=worst - 0.01,
        rule="in two consecutive 15-minute records",
        excursions=result.excursions[:1],
    )
    name = result.limit.name
    told = [lesser if r.limit.limit_id == result.limit.limit_id else r for r in week.limits]
    need = next(one for one in needs(replace(week, limits=tuple(told))) if one.subject == name)
    before = next(one for one in needs(week) if one.subject == name)
    assert need.text.split("furthest out")[1] == before.text.split("furthest out")[1]


def test_an_instrument_in_doubt_is_said_beside_the_excursion() -> None:
    chlorine = next(need for need in needs(full_week()) if need.subject == "Entry chlorine minimum")
    assert "in doubt" in chlorine.detail
    assert "no reason to wait" in chlorine.detail


def test_what_could_not_be_assessed_follows() -> None:
    unknown = next(need for need in needs(full_week()) if need.subject == "Effluent pH")
    assert unknown.tone == "unknown"
    assert (
        unknown.text.replace("\N{NO-BREAK SPACE}", " ")
        == "could not be assessed: 40 % of the record could be judged."
    )


def test_of_several_that_could_not_be_assessed_each_rule_is_told_once() -> None:
    """40 CFR 141.174(b): a grab every 4 hours, five working days at most."""
    week = quiet_week()
    rule = "a grab every 4 hours, and the turbidimeter back within 5 working days"
    told = [
        replace(r, status="not assessable", limit=r.limit.model_copy(update={"on_failure": rule}))
        if r.limit.limit_id.startswith("IFE")
        else r
        for r in week.limits
    ]
    (unknown,) = needs(replace(week, limits=tuple(told)))
    assert unknown.subject == "2 limits"
    assert unknown.detail.count(rule) == 1
    assert unknown.detail.startswith("bench sheet")


def test_a_filter_out_of_service_all_week_is_not_looked_for_in_other_records() -> None:
    week = quiet_week()
    case = week.cases["AIT-121"]
    masked = pl.DataFrame({"start": [PERIOD.start], "end": [PERIOD.end]}, schema=SPANS)
    told = [
        replace(r, status="not assessable", coverage_pct=0.0) if r.limit.limit_id == "IFE-121" else r
        for r in week.limits
    ]
    idle = replace(week, limits=tuple(told), cases={**week.cases, "AIT-121": replace(case, masked=masked)})
    (need,) = [need for need in needs(idle) if need.link == "limits"]
    assert (need.subject, need.ask) == ("AIT-121", "See that it really was.")
    assert "out of service throughout" in need.text
    assert not any("another record" in need.ask for need in needs(idle))


@pytest.mark.parametrize(("days", "count"), [(8, 0), (15, 1)])
def test_a_month_that_has_just_begun_asks_for_nothing(days: int, count: int) -> None:
    week = quiet_week()
    begun = PERIOD.end - timedelta(days=days)
    told = [
        replace(r, status="not assessable", so_far=True, period_start=begun)
        if r.limit.limit_id == "PH-FIN"
        else r
        for r in week.limits
    ]
    assert len(needs(replace(week, limits=tuple(told)))) == count


def _short(value: float, so_far: bool) -> list[Need]:
    """A mean of which 3 of 4 sampled days are there; finished pH may be 6.5 to 8.5."""
    week = quiet_week()
    told = [
        replace(r, status="not assessable", lacks="3 of 4 sampled days", value=value, so_far=so_far)
        if r.limit.limit_id == "PH-FIN"
        else r
        for r in week.limits
    ]
    begun = [replace(r, period_start=PERIOD.end - timedelta(days=20)) if r.lacks else r for r in told]
    return needs(replace(week, limits=tuple(begun)))


def test_too_few_results_are_looked_for_when_the_stretch_is_over() -> None:
    (need,) = _short(7.9, so_far=False)
    assert need.text == "could not be assessed: 3 of 4 sampled days."
    assert need.ask == "See whether a result is missing here:"
    assert _short(7.9, so_far=True) == []


def test_too_few_results_beyond_the_limit_are_told_at_once() -> None:
    for so_far in (True, False):
        (need,) = _short(8.9, so_far)
        assert "3 of 4 sampled days; what there is comes to pH 8.90, beyond the limit" in need.text.replace(
            "\N{NO-BREAK SPACE}", " "
        )


def test_a_quiet_week_asks_nothing() -> None:
    assert needs(quiet_week()) == []


def test_an_empty_week_asks_for_its_exports() -> None:
    (need,) = needs(empty_week())
    assert need.tone == "unknown"
    assert "exports" in need.ask


def test_an_instrument_whose_doubt_is_told_is_not_one_more() -> None:
    """AIT-130 is not yet pressing; where a limit may be outside because of it, its line has named it."""
    week = full_week()
    (doubtful,) = [entry.finding for entry in week.entries if entry.finding.tag == "AIT-130"]
    doubt = Doubt(
        doubtful.finding_id,
        doubtful.instrument,
        "AIT-130",
        doubtful.kind,
        doubtful.unit,
        (0.1, 0.3),
        ((0.1, "outside"),),
    )
    told = [replace(r, doubt=doubt) if r.status == "within" else r for r in week.limits]
    more = [need for need in needs(replace(week, limits=tuple(told))) if "not yet pressing" in need.text]
    assert [(need.subject, need.text.rsplit(" ", 1)[-1]) for need in more] == [
        ("1 more instrument", "AIT-541.")
    ]


def test_limits_of_one_tag_that_could_not_be_assessed_are_named_by_it() -> None:
    """A dead analyser has five limits: the reader needs its name once."""
    week = full_week()
    one = next(result for result in week.limits if result.status == "not assessable")
    more = [replace(one, limit=one.limit.model_copy(update={"limit_id": f"X{k}"})) for k in range(4)]
    need = next(n for n in needs(replace(week, limits=(*week.limits, *more))) if n.subject == "5 limits")
    assert need.text == f"could not be assessed: 5 limits of {one.limit.tag}."


def test_what_came_back_by_itself_is_the_last_line_and_no_entry() -> None:
    over = replace(PH_FROZEN, end=at(13, "10:00"), status="cleared")
    week = replace(quiet_week(), findings=(over,), came_back=(over,))
    (need,) = needs(week)
    assert need.subject == "1 instrument"
    assert need.text.replace("\u00a0", " ") == "came back by itself: AIT-132 (frozen, until Fri 13 Nov)."
    assert "no service is logged" in need.detail
    assert week.entries == ()
    for page in (weekly_page(week), calibration_page(week)):
        assert "Came back by itself" in page and "No instrument is in doubt any more" in page


def test_a_daily_value_is_outside_on_a_day_and_not_for_a_day() -> None:
    """A daily low is one reading: that it lay below the limit says nothing of the other hours."""
    week = full_week()
    result = next(one for one in week.limits if one.status == "outside" and one.excursions)
    days = tuple((start, 0.1) for start, _ in week.period.days)
    daily = replace(result, days=days, excursions=result.excursions[:1], minutes_outside=1440.0, rule="")
    told = [daily if one.limit.limit_id == result.limit.limit_id else one for one in week.limits]
    changed = replace(week, limits=tuple(told), excursions=daily.excursions)
    need = next(one for one in needs(changed) if one.subject == result.limit.name)
    assert " on 1 day;" in need.text and " for " not in need.text
    page = weekly_page(changed)
    assert "<dt>Outside on</dt><dd>1 day</dd>" in page and "<dt>Outside for</dt>" not in page
