"""Overtaken: a week whose exports come one after the other is not left with half of them in silence."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.clock import week_named
from pipeline.config.load import Plant
from pipeline.run import report, run
from pipeline.say import say_reports

MakePlant = Callable[..., Plant]
WEEK = "2026-W46"


def now() -> datetime:
    return datetime(2026, 11, 16, 8, tzinfo=UTC)


def export(column: str, value: float, days: int = 7) -> str:
    start = datetime(2026, 11, 9)
    times = [start + timedelta(minutes=15 * k) for k in range(96 * days)]
    lines = [f"{time:%Y-%m-%d %H:%M},{value + 0.01 * (k % 7):.2f}" for k, time in enumerate(times)]
    return "\n".join([f"Time,{column}", *lines, ""])


def deliver(plant: Plant, name: str, content: str) -> None:
    (Path(plant.folder) / "trends" / f"{name}.csv").write_text(content)


def test_readings_that_come_after_the_report_are_told_until_it_is_made_again(
    make_plant: MakePlant, capsys: pytest.CaptureFixture[str]
) -> None:
    plant = make_plant(filters=export("Filter turbidity", 0.05))
    first = run(plant, now)
    assert [week.period.label for week in first.weeks] == [WEEK]
    assert first.overtaken == []

    deliver(plant, "clearwell", export("AIT-2", 0.8))
    second = run(plant, now)
    assert (second.weeks, second.overtaken) == ([], [WEEK])
    say_reports(plant, second, None)
    assert f"stillwell report --week {WEEK}" in capsys.readouterr().err

    report(plant, [week_named(WEEK, plant.zone)], now)
    assert run(plant, now).overtaken == []


def test_the_same_readings_in_another_file_change_nothing(make_plant: MakePlant) -> None:
    """A month's workbook is delivered again with every week: what it repeats is known."""
    plant = make_plant(week=export("Filter turbidity", 0.05))
    run(plant, now)
    deliver(plant, "month", export("Filter turbidity", 0.05, days=9))
    again = run(plant, now)
    assert again.intake is not None
    assert again.overtaken == []
