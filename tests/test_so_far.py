"""So far: a period that is not over is judged up to where the newest export ends, and no further."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from pipeline.clock import month_named, week_named
from pipeline.config.load import Plant
from pipeline.intake import take_in
from pipeline.run import report, week_of_period
from pipeline.week import Week

MakePlant = Callable[..., Plant]
START = datetime(2026, 11, 2)


def _now() -> datetime:
    return datetime(2026, 11, 30, 8, tzinfo=UTC)


def _export(column: str, days: int) -> str:
    times = [START + timedelta(minutes=15 * k) for k in range(96 * days)]
    lines = [f"{time:%Y-%m-%d %H:%M},{0.05 + 0.01 * (k % 7):.2f}" for k, time in enumerate(times)]
    return "\n".join([f"Time,{column}", *lines, ""])


def _told(plant: Plant, month: bool) -> tuple[Week, str]:
    take_in(plant, now=_now())
    period = month_named("2026-11", plant.zone) if month else week_named("2026-W45", plant.zone)
    done = report(plant, [period], _now)
    page = (done.reports[0].folder / "weekly.html").read_text(encoding="utf-8")
    return week_of_period(plant, period), page


def _gaps(week: Week) -> list[str]:
    return [finding.tag for finding in week.findings if finding.kind == "gap"]


def test_what_has_not_been_delivered_yet_is_no_gap(make_plant: MakePlant) -> None:
    week, page = _told(
        make_plant(filters=_export("Filter turbidity", 20), chlorine=_export("AIT-2", 20)), True
    )
    assert _gaps(week) == []
    covered = {row["tag"]: row for row in week.coverage.iter_rows(named=True)}
    # Recorded on 20 of the 21 days that are known of; the first has 25 hours (tz database).
    assert covered["AIT-2"]["coverage_pct"] == pytest.approx(100 * 480 / 505)
    assert "Known up to Sun 22 Nov 00:00" in " ".join(page.replace("\u00a0", " ").split())


def test_a_tag_that_fell_silent_before_the_others_is_a_gap(make_plant: MakePlant) -> None:
    """The newest export tells how far the period is known, and not each tag's own."""
    week, _ = _told(make_plant(filters=_export("Filter turbidity", 18), chlorine=_export("AIT-2", 20)), True)
    assert _gaps(week) == ["AIT-1"]


def test_a_period_that_is_over_is_known_to_its_end(make_plant: MakePlant) -> None:
    plant = make_plant(filters=_export("Filter turbidity", 7), chlorine=_export("AIT-2", 6))
    week, page = _told(plant, False)
    assert week.as_of == week.period.end
    assert _gaps(week) == ["AIT-2"]
    assert "Known up to" not in page
