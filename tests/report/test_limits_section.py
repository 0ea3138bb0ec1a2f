"""Limits on the page: what asks for a look stands open, what was kept is folded, none is left out."""

import re
from dataclasses import replace

from pipeline.report.sections.limits import render
from pipeline.result import Doubt
from pipeline.week import Week
from tests.report.weeks import full_week, quiet_week


def _parts(week: Week) -> tuple[list[str], list[str]]:
    """Return the ids of the rows that stand open and of those that are folded away."""
    page = str(render(week))
    open_part, _, folded = page.partition("<details>")
    return re.findall(r'<tr id="limit-([^"]+)"', open_part), re.findall(r'<tr id="limit-([^"]+)"', folded)


def test_every_limit_stands_once() -> None:
    for week in (quiet_week(), full_week()):
        opened, folded = _parts(week)
        assert sorted(opened + folded) == sorted({one.limit.limit_id for one in week.limits})


def test_what_is_not_within_stands_open() -> None:
    week = full_week()
    opened, _ = _parts(week)
    assert {one.limit.limit_id for one in week.limits if one.status != "within"} <= set(opened)


def test_where_all_was_kept_it_says_so() -> None:
    opened, folded = _parts(quiet_week())
    assert opened == [] and folded
    assert f"All {len(folded)} limits were within." in str(render(quiet_week()))


def test_a_doubt_that_changes_nothing_folds_it_and_any_other_does_not() -> None:
    week = quiet_week()
    first, *others = week.limits

    def looked(*statuses):
        looks = tuple((0.9, status) for status in statuses)
        doubt = Doubt("AIT-131.drift.2026-11-01", "AE-131", "AIT-131", "drift", "mg/L", (0.1, 0.2), looks)
        return _parts(replace(week, limits=(replace(first, doubt=doubt), *others)))[0]

    assert looked("within", "within") == []
    assert looked("within", "near") == looked("within", "outside") == looked() == [first.limit.limit_id]


def test_a_day_that_is_not_known_is_named_and_stands_open() -> None:
    week = quiet_week()
    first, *others = week.limits
    day = week.period.days[1][0]
    holed = replace(week, limits=(replace(first, unknown_days=(day,)), *others))
    assert _parts(holed)[0] == [first.limit.limit_id]
    page = str(render(holed))
    assert "Within, 1 day not known" in page
    assert "not known: Tue 10 Nov" in page.replace("\u00a0", " ")
