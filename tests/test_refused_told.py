"""Refused told: readings that came and could not be read are not called silence."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from pipeline.archive.refused import refused_days, write_refused
from pipeline.clock import week_named
from pipeline.config.load import Plant
from pipeline.intake import take_in
from pipeline.report.needs import Need, needs
from pipeline.run import report, week_of_period

MakePlant = Callable[..., Plant]


def _now() -> datetime:
    return datetime(2026, 11, 30, 8, tzinfo=UTC)


def _export(column: str, form: str = "%Y-%m-%d %H:%M", value: str = "0.05", first: int = 9) -> str:
    """Seven days of quarter hours: 672 readings."""
    times = [datetime(2026, 11, first) + timedelta(minutes=15 * k) for k in range(672)]
    return "\n".join(
        [f"Time,{column}", *(f"{time:{form}},{value}{k % 7}" for k, time in enumerate(times)), ""]
    )


def _told(plant: Plant, tag: str) -> tuple[Need, str]:
    take_in(plant, now=_now())
    week = week_named("2026-W46", plant.zone)
    (done,) = report(plant, [week], _now).reports
    (need,) = [one for one in needs(week_of_period(plant, week)) if tag in one.subject]
    return need, " ".join((done.folder / "weekly.html").read_text("utf-8").replace("\u00a0", " ").split())


@pytest.mark.parametrize("form", ["%Y-%m-%d %H:%M", "%m/%d/%Y %H:%M"])
def test_a_column_that_was_refused_whole_did_not_record_nothing(make_plant: MakePlant, form: str) -> None:
    """Chlorine in NTU cannot be: the column is refused; nothing of the file is stored, so it has no times."""
    plant = make_plant(filters=_export("Filter turbidity"), chlorine=_export("AIT-2 (NTU)", form))
    need, page = _told(plant, "AIT-2")
    assert "delivered nothing that could be read" in need.text
    assert "672 readings of those days were refused" in need.text
    assert "archive/refused/" in need.ask
    assert "672 readings of those days were refused, see archive/refused/" in page


def test_what_was_refused_of_another_week_is_no_excuse_for_this_one(make_plant: MakePlant) -> None:
    plant = make_plant(filters=_export("Filter turbidity"), chlorine=_export("AIT-2 (NTU)", first=16))
    need, _ = _told(plant, "Clearwell")
    assert need.text.startswith("recorded nothing")


def test_days_as_exports_write_them(tmp_path) -> None:
    """A day and month that may change places are both days; a stamp without a day is none."""
    import polars as pl

    stamps = {
        "2026-11-10 00:00": {date(2026, 11, 10)},
        "11/10/2026 1:00 PM": {date(2026, 11, 10), date(2026, 10, 11)},
        "13.11.2026 01:00": {date(2026, 11, 13)},
        "nonsense": set(),
    }
    rows = [{"line": "1", "tag": "A", "when": text, "value": "x", "reason": "r"} for text in stamps]
    write_refused(tmp_path, "s", "f", [pl.DataFrame(rows)])
    assert [(set(days), count) for _, days, count in refused_days(tmp_path, "s")] == [
        (days, 1) for days in stamps.values()
    ]
