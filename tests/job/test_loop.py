"""The loop: a sheet filled in on Tuesday closes the entry, restarts the segment and is counted next week."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest

from pipeline import checks
from pipeline.casebook import case_of
from pipeline.clock import period_between
from pipeline.config.instruments import Instrument
from pipeline.config.load import Plant
from pipeline.config.plant import Area, PlantFile
from pipeline.config.tags import Tag
from pipeline.judge import judge
from pipeline.logbook import calibrations, verdicts
from pipeline.parts import parts
from pipeline.report.tables import tables
from pipeline.table import TIME
from pipeline.week import Week

DENVER = ZoneInfo("America/Denver")
START = datetime(2026, 6, 1, 6, tzinfo=UTC)
ONSET, REPAIRED, DAYS = 100, 169, 182
"""Days after the start. The sheet is filled in on Tuesday 17 November 2026, day 169."""
FIRST_WEEK = period_between(date(2026, 11, 9), date(2026, 11, 15), DENVER)
NEXT_WEEK = period_between(date(2026, 11, 16), date(2026, 11, 22), DENVER)
ID = "AIT-1.drift."


def _plant() -> Plant:
    tag = Tag(row=2, tag="AIT-1", area="plant", measures="ph", unit="pH", instrument="AE-1", low=0, high=14)
    device = Instrument(row=2, instrument="AE-1", place="panel", service_days=182, tolerance=0.2)
    file = PlantFile(
        name="Harrow Fork",
        time_zone="America/Denver",
        area=[Area(id="plant", name="Plant", plant="water")],
        checks={},
    )
    return Plant(Path(), file, {"AIT-1": tag}, {"AE-1": device}, {})


@pytest.fixture(scope="module")
def reported() -> Callable[..., Week]:
    """Report a week of one pH analyser that drifts 0.06 a week from day 100 on, with a grab every third day.

    From the repair on it reads right, where there was one.
    """
    plant, random = _plant(), np.random.default_rng(3)
    hours = np.arange(DAYS * 24)
    water = 7.4 + 0.05 * np.sin(2 * np.pi * hours / 24) + 0.01 * random.standard_normal(len(hours))
    noise = 0.03 * random.standard_normal(DAYS)
    times = pl.Series("time", [START + timedelta(hours=int(hour)) for hour in hours], dtype=TIME)

    def run(week: object, folder: Path, repaired: bool) -> Week:
        drift = np.maximum(hours / 24 - ONSET, 0) * 0.06 / 7
        drift = np.where(repaired & (hours / 24 >= REPAIRED + 0.375), 0.0, drift)
        frame = pl.DataFrame({"time": times, "value": water + drift}).with_columns(good=pl.lit(True))
        grabs = pl.DataFrame(
            [(START + timedelta(days=k, hours=9), water[24 * k + 9] + noise[k]) for k in range(0, DAYS, 3)],
            schema={"time": TIME, "value": pl.Float64},
            orient="row",
        )
        assert hasattr(week, "end")
        end = week.end
        services, faults = calibrations.read(folder, DENVER, plant.instruments)
        words, more = verdicts.read(folder, DENVER)
        assert faults == more == []
        before = pl.col("time") < end
        rows = frame.filter(before)
        whole = pl.DataFrame({"start": [START], "end": [end]}, schema={"start": TIME, "end": TIME})
        case = case_of(
            plant.tags["AIT-1"].model_copy(update={"step_s": 3600.0}),
            plant.instruments["AE-1"],
            DENVER,
            end,
            rows,
            whole,
            whole.clear(),
            grabs.filter(before),
            services.filter(before),
        )
        settings = {name: part.Settings() for name, part in parts(checks).items()}
        return judge(plant, week, {"AIT-1": case}, settings, words.filter(before))  # type: ignore[arg-type]

    return run


def _listed(week: Week) -> list[str]:
    return [entry.finding.kind for entry in week.entries]


def test_the_sheet_filled_in_closes_the_entry_and_is_counted(
    reported: Callable[..., Week], tmp_path: Path
) -> None:
    first = reported(FIRST_WEEK, tmp_path, repaired=False)
    assert _listed(first) == ["drift"]
    sheet = tables(replace(first, plant=_plant()))["field-sheet.csv"]
    finding = first.entries[0].finding.finding_id
    # What the technician types: time, as found, reference, cleaned, reference again, as left, by.
    filled = sheet.replace(
        f"{finding},,calibration,,,,,,,,", f"{finding},2026-11-17 09:00,calibration,7.98,7.41,7.95,,7.41,rl,,"
    )
    assert filled != sheet
    (tmp_path / "field-sheet-2026-W46.csv").write_text(filled)
    following = reported(NEXT_WEEK, tmp_path, repaired=True)
    assert _listed(following) == []
    (closed,) = [f for f in following.findings if f.finding_id == finding]
    assert closed.status == "cleared"
    assert following.verdict_tally.row(0, named=True)["borne_out"] == 1


@pytest.mark.parametrize(("word", "still"), [("dismissed", []), ("process", []), ("confirmed", ["drift"])])
def test_an_answer_changes_what_is_shown_next_week(
    reported: Callable[..., Week], tmp_path: Path, word: str, still: list[str]
) -> None:
    """Nobody touched the analyser; what was dismissed, or was the water, asks for nobody's time any more."""
    finding = reported(FIRST_WEEK, tmp_path, repaired=False).entries[0].finding.finding_id
    (tmp_path / "verdicts.csv").write_text(
        f"finding_id,verdict,by,time,note\n{finding},{word},rl,2026-11-17 09:00,\n"
    )
    following = reported(NEXT_WEEK, tmp_path, repaired=False)
    assert _listed(following) == still
    assert following.verdict_tally.row(0, named=True)[word] == 1
    # The week that is reported again says what it said on its Monday.
    assert _listed(reported(FIRST_WEEK, tmp_path, repaired=False)) == ["drift"]
