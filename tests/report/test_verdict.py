"""Verdict: the sentence at the top never says more than the week does."""

from dataclasses import replace

from pipeline.report.verdict import judge
from tests.report.weeks import empty_week, full_week, quiet_week


def test_a_troubled_week_counts_everything() -> None:
    verdict = judge(full_week())
    assert verdict.sentence == (
        "Outside 5 of 9 limits, for review; near 1 more; 1 could not be assessed; "
        "4 instruments to check, 2 of them first; 2 stretches without data."
    )
    assert (verdict.word, verdict.tone) == ("For review", "outside")


def test_a_quiet_week_claims_no_more_than_was_assessed() -> None:
    verdict = judge(quiet_week())
    assert verdict.sentence == (
        "Inside all 9 limits, in what could be assessed; no instrument in doubt; no long gap in the data."
    )
    assert verdict.tone == "within"


def test_no_data_is_not_a_quiet_week() -> None:
    verdict = judge(empty_week())
    assert (verdict.word, verdict.tone) == ("No data", "unknown")
    assert verdict.sentence == "Nothing was recorded in this period, so none of 9 limits could be assessed."


def test_not_assessable_outweighs_a_week_without_excursions() -> None:
    week = quiet_week()
    unknown = replace(week.limits[0], status="not assessable", value=None)
    verdict = judge(replace(week, limits=(unknown, *week.limits[1:])))
    assert verdict.tone == "unknown"
    assert verdict.sentence.startswith("Inside 8 limits, in what could be assessed; 1 could not be assessed;")


def test_a_limit_count_never_vanishes() -> None:
    for week in (full_week(), quiet_week(), empty_week()):
        counts = judge(week).counts
        told = counts["outside"] + counts["near"] + counts["within"] + counts["not_assessable"]
        assert told == counts["limits"] == len(week.limits)
