"""Doubt on the page: a compliance that would fail over the instrument's error says so, in three places."""

import re
from dataclasses import replace

import pytest

from pipeline.report.needs import needs
from pipeline.report.page import weekly_page
from pipeline.report.results import doubt_words, over_words
from pipeline.result import Doubt, LimitStatus
from pipeline.week import Week
from tests.report import findings as found
from tests.report.weeks import full_week, quiet_week


def _doubt(low: float, high: float, *looks: tuple[float, LimitStatus]) -> Doubt:
    finding = found.CHLORINE_DRIFT
    return Doubt(finding.finding_id, "AE-131", "AIT-131", "drift", "mg/L", (low, high), looks)


def _with(week: Week, limit_id: str, doubt: Doubt) -> Week:
    told = [replace(r, doubt=doubt) if r.limit.limit_id == limit_id else r for r in week.limits]
    return replace(week, limits=tuple(told))


def _text(page: str) -> str:
    bare = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.S)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", bare)).replace("\N{NO-BREAK SPACE}", " ")


@pytest.fixture
def failing() -> Week:
    """Within as recorded at 0.98 mg/L against 0.5; off by 0.1 to 0.6 it would be 0.88 to 0.38."""
    doubt = _doubt(0.1, 0.6, (0.88, "within"), (0.38, "outside"))
    return _with(quiet_week(), "CL2-LOW", doubt)


def test_a_compliance_that_would_fail_asks_for_the_instrument(failing: Week) -> None:
    (need,) = needs(failing)
    assert need.subject == "Entry chlorine own target"
    text = need.text.replace("\N{NO-BREAK SPACE}", " ")
    assert text == (
        "is within as recorded, but AE-131 (AIT-131) may be off by +0.10 to +0.60 mg/L; over that it would "
        "read 0.38 to 0.88 mg/L: outside to within."
    )
    assert need.ask.startswith("For review: verify the instrument")


def test_it_stands_in_the_table_and_among_the_needs(failing: Week) -> None:
    text = _text(weekly_page(failing))
    assert "AE-131 in doubt: over its error 0.38 to 0.88 mg/L: outside to within; for review" in text
    assert "outside to within" in text[: text.index("Worst value in this period")]
    assert not re.search(r"\b(corrected|adjusted value|violation)\b", text)


def test_one_that_stays_within_asks_for_nothing() -> None:
    doubt = _doubt(0.1, 0.2, (0.88, "within"), (0.78, "within"))
    week = _with(quiet_week(), "CL2-LOW", doubt)
    assert needs(week) == []
    assert "0.78 to 0.88 mg/L: within; for review" in _text(weekly_page(week))


def test_an_excursion_says_what_it_would_come_to() -> None:
    doubt = _doubt(-0.4, -0.1, (0.58, "within"), (0.28, "outside"))
    week = _with(full_week(), "CL2-LOW", doubt)
    text = _text(weekly_page(week))
    assert (
        "it would read 0.28 to 0.58 mg/L: outside to within. For review: the record stands as it is." in text
    )
    need = next(need for need in needs(week) if need.subject == "Entry chlorine own target")
    assert "no reason to wait" in need.detail
    assert "outside to within" in need.detail


def test_where_nobody_can_say_how_far_off_it_says_that() -> None:
    doubt = Doubt("F", "AE-131", "AIT-131", "noisy", "mg/L")
    week = _with(quiet_week(), "CL2-LOW", doubt)
    result = next(r for r in week.limits if r.doubt)
    assert (
        doubt_words(week, result) == "AE-131 (AIT-131) is in doubt (noisy); how far off it is cannot be said"
    )
    assert over_words(week, result) == "noisy; how far off cannot be said"
    assert needs(week) == []


def test_ph_has_its_name_once() -> None:
    doubt = Doubt("F", "AE-132", "AIT-132", "drift", "pH", (0.2, 0.5), ((7.7, "within"), (7.4, "within")))
    week = _with(quiet_week(), "PH-FIN", doubt)
    result = next(r for r in week.limits if r.doubt)
    words = over_words(week, result).replace("\N{NO-BREAK SPACE}", " ")
    assert words == "over its error pH 7.40 to 7.70: within"
