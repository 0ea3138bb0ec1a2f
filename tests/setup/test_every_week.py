"""The draft shows how the week comes by itself; with the marks struck it is sound."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from pipeline.config.load import Plant, load
from pipeline.setup.write import setup


def test_what_a_draft_shows_of_timer_and_mail_is_sound(
    make_plant: Callable[..., Plant], tmp_path: Path
) -> None:
    lines = "".join(f"2026-11-01 0{hour}:00,7.{hour}\n" for hour in range(10))
    exports = make_plant(a=f"Time,AIT-1 (pH)\n{lines}").folder / "trends/a.csv"
    done = setup(tmp_path / "drafted", (exports,), "America/Denver", None, datetime(2026, 12, 1, tzinfo=UTC))
    toml = done.folder / "plant.toml"
    shown = [line.removeprefix("# ") for line in toml.read_text(encoding="utf-8").splitlines()]
    struck = [line for line in shown if line.startswith(("[", "day", "at", "server", "from", "to "))]
    toml.write_text(toml.read_text(encoding="utf-8") + "\n".join(struck[struck.index("[schedule]") :]) + "\n")
    plant = load(done.folder.parent)
    assert (plant.file.schedule.day, plant.file.schedule.at) == ("monday", "05:00")
    assert plant.file.mail is not None
