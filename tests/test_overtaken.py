"""Overtaken: what came after a report, or under a name since given up, is not left out in silence."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.clock import week_named
from pipeline.config.load import Plant, load
from pipeline.errors import UsageError
from pipeline.intake import take_in
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
    assert [one.label for one in first.reports] == [WEEK]
    assert first.overtaken == []

    deliver(plant, "clearwell", export("AIT-2", 0.8))
    second = run(plant, now)
    assert (second.reports, second.overtaken) == ([], [WEEK])
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


def test_a_tag_that_was_renamed_is_told_until_its_exports_are_read_again(
    make_plant: MakePlant, capsys: pytest.CaptureFixture[str]
) -> None:
    """The export was read under the old name: it is known, and of the new name there is nothing."""
    plant = make_plant(filters=export("Filter turbidity", 0.05))
    say_reports(plant, run(plant, now), None)
    assert "renamed" not in capsys.readouterr().err

    for name in ("tags.csv", "limits.csv"):
        path = plant.folder / "config" / name
        path.write_text(path.read_text().replace("AIT-1", "TURB-1"))
    mended = load(plant.folder)
    say_reports(mended, run(mended, now), None)
    told = capsys.readouterr().err
    assert "AIT-1" in told and "TURB-1" in told and "stillwell ingest --again" in told

    take_in(mended, [mended.folder / "trends" / "filters.csv"], now=now(), again=True)
    assert "TURB-1" not in run(mended, now).empty


def test_what_the_archive_holds_is_told_in_the_plants_days(make_plant: MakePlant) -> None:
    """23:45 on Sunday in Denver is Monday in Greenwich, of which the plant has nothing."""
    plant = make_plant(filters=export("Filter turbidity", 0.05))
    run(plant, now)
    with pytest.raises(UsageError, match="it holds 2026-11-09 to 2026-11-15"):
        report(plant, [week_named("2026-W50", plant.zone)], now)
