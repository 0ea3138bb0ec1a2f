"""Open records through `setup` and `ingest`: their traps, checked against the files read by hand.

Credit for the records: `README.md` beside them.
"""

import shutil
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from pipeline.archive.trends import read
from pipeline.config.load import Plant, load
from pipeline.intake import take_in
from pipeline.setup.draft import TagDraft
from pipeline.setup.write import Setup, setup

HERE = Path(__file__).parent
NOW = datetime(2026, 11, 16, 12, tzinfo=UTC)
WATER, WEATHER, FLAGGED = "water-2018-11.csv", "weather-2019-03.csv", "flagged-2020-08.csv"
YEAR_END = ("discharge-2009.csv", "discharge-2010.csv")

Drafted = Callable[..., tuple[Setup, Path]]


@pytest.fixture
def drafted(tmp_path: Path) -> Drafted:
    """Copy records into a plant's folder and draft its config."""

    def make(*files: str, zone: str | None = None) -> tuple[Setup, Path]:
        folder = tmp_path / "plant"
        (folder / "exports").mkdir(parents=True, exist_ok=True)
        for file in files:
            shutil.copy(HERE / file, folder / "exports" / file)
        return setup(folder, [folder / "exports"], zone), folder

    return make


def _correct(folder: Path, file: str, *changes: tuple[str, str]) -> Plant:
    """Mend a drafted file as a person would, and load the config."""
    path = folder / "config" / file
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return load(folder)


def _with_sentinels(folder: Path, **sentinels: str) -> Plant:
    """Fill in the last column of tags.csv."""
    path = folder / "config" / "tags.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    found = {line.split(",", 1)[0]: line for line in lines}
    for tag, numbers in sentinels.items():
        lines[lines.index(found[tag])] = found[tag] + numbers
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return load(folder)


def _drafts(done: Setup) -> dict[str, TagDraft]:
    return {tag.tag: tag for tag in done.draft.tags}


def _values(plant: Plant, tag: str) -> pl.DataFrame:
    return read(plant.archive, [tag]).sort("time").collect()


def test_the_flag_columns_and_codes_are_left_out(drafted: Drafted) -> None:
    done, folder = drafted(WATER, zone="-06:00")
    assert load(folder).file.reading.ignore_columns == ("F_*", "StationCode", "isSWMP")
    # What is left is what the reserve system's own list calls parameters, and its two columns of history.
    assert [tag.export_name for tag in done.draft.tags] == [
        *("Historical", "ProvisionalPlus", "Temp", "SpCond", "Sal"),
        *("DO_Pct", "DO_mgl", "Depth", "cDepth", "pH", "Turb"),
    ]


def test_what_the_parameters_measure(drafted: Drafted) -> None:
    """Against the reserve system's own list of parameters and units."""
    tags = _drafts(drafted(WATER)[0])
    assert {
        name: tags[name].guesses["measures"].value for name in ("Temp", "SpCond", "Depth", "pH", "Turb")
    } == {
        "Temp": "temperature",
        "SpCond": "conductivity",
        "Depth": "level",
        "pH": "ph",
        "Turb": "turbidity",
    }
    units = {name: tags[name].guesses["unit"].value for name in ("DO_Pct", "DO_mgl", "pH", "Temp")}
    # The header says mg/L and per cent; of the temperature it says nothing, and nothing is made up.
    assert units == {"DO_Pct": "%", "DO_mgl": "mg/L", "pH": "pH", "Temp": "1"}


def test_the_step_and_the_resolution(drafted: Drafted) -> None:
    tags = _drafts(drafted(WATER)[0])
    assert {tag.guesses["step_s"].value for tag in tags.values()} == {"900"}
    steps = {name: tags[name].guesses["resolution"].value for name in ("Temp", "SpCond", "Depth", "Turb")}
    assert steps == {"Temp": "0.1", "SpCond": "0.01", "Depth": "0.01", "Turb": "1"}


def test_sentinel_blocks_are_named_and_not_taken_out(drafted: Drafted) -> None:
    """45 quarter hours from 13:00 on the 13th to midnight read -99, -1210.73 and -1211."""
    done, folder = drafted(WATER, zone="-06:00")
    remarks = {tag.tag: " ".join(tag.remarks) for tag in done.draft.tags}
    for tag in ("Temp", "Sal", "DO_Pct", "DO_mgl", "Depth", "pH"):
        assert "-99 (45 times)" in remarks[tag]
        assert float(_drafts(done)[tag].guesses["low"].value) >= 0
    assert "-1210.73 (45 times)" in remarks["SpCond"]
    assert "-1211 (45 times)" in remarks["Turb"]
    assert "times)" not in remarks["cDepth"]  # blank in that block
    plant = load(folder)
    assert all(tag.sentinels == () for tag in plant.tags.values())
    take_in(plant, now=NOW)
    assert (_values(plant, "Temp")["value"] == -99.0).sum() == 45


def test_named_sentinels_are_bad_readings_with_their_text_kept(drafted: Drafted) -> None:
    _, folder = drafted(WATER, zone="-06:00")
    plant = _with_sentinels(folder, Temp="-99", SpCond="-1210.73", Turb="-1211", pH="-99")
    intake = take_in(plant, now=NOW)
    for tag, text in (("Temp", "-99.0"), ("SpCond", "-1210.73"), ("Turb", "-1211"), ("pH", "-99.0")):
        void = _values(plant, tag).filter(pl.col("quality") == "bad")
        assert void["raw"].to_list() == [text] * 45
        assert void["value"].null_count() == 45
        assert void["time"][0] == datetime(2018, 11, 13, 19, tzinfo=UTC)  # 13:00 at -06:00
    assert intake.total("refused") == 0


def test_every_reading_is_in_the_archive_and_nothing_is_refused(drafted: Drafted) -> None:
    """242 lines; eleven columns, of which cDepth is blank on the last 45 lines."""
    _, folder = drafted(WATER, zone="-06:00")
    plant = load(folder)
    intake = take_in(plant, now=NOW)
    assert (intake.exit_status, intake.faults) == (0, ())
    assert intake.total("read") == intake.total("stored") == 242 * 11 - 45
    temp = _values(plant, "Temp")
    assert temp.height == 242
    # "11/03/2018 12:00" and "11/14/2018 0:00", Central Standard Time.
    assert temp["time"][0] == datetime(2018, 11, 3, 18, tzinfo=UTC)
    assert temp["time"][-1] == datetime(2018, 11, 14, 6, tzinfo=UTC)


def test_without_the_ignored_columns_every_flag_would_be_refused(drafted: Drafted) -> None:
    _, folder = drafted(WATER, zone="-06:00")
    plant = _correct(folder, "plant.toml", ('    "F_*",', "    # F_*"))
    intake = take_in(plant, now=NOW)
    assert intake.exit_status == 3
    assert intake.total("stored") == 242 * 11 - 45


def test_standard_time_all_year_is_seen_in_autumn(drafted: Drafted) -> None:
    """4 November 2018: clocks in the United States went back at 02:00; this record's did not."""
    done, _ = drafted(WATER)
    assert done.draft.zone.value == "UTC"
    assert "stands once on 4 November 2018" in done.draft.zone.evidence
    done, _ = drafted(WATER, zone="America/Chicago")
    assert done.draft.zone.value == "America/Chicago"
    assert "(-06:00) as time_zone" in done.draft.zone.evidence


def test_standard_time_all_year_is_seen_in_spring(drafted: Drafted) -> None:
    """10 March 2019: the quarter hours from 02:00 are in the record and never were on Chicago's clock."""
    done, folder = drafted(WEATHER, zone="America/Chicago")
    assert "stamps from 02:00 on 10 March 2019" in done.draft.zone.evidence
    plant = load(folder)
    wrong = take_in(plant, now=NOW)
    lines = {int(line) for line in _refused_lines(plant)}
    assert wrong.exit_status == 3 and len(lines) == 4
    plant = _correct(folder, "plant.toml", ('"America/Chicago"', '"-06:00"'))
    shutil.rmtree(plant.archive)
    right = take_in(plant, now=NOW)
    assert right.exit_status == 0
    air = _values(plant, "ATemp")
    assert air.height == 193  # 48 h in quarter hours, both ends
    assert air["time"].diff().drop_nulls().unique().to_list() == [timedelta(minutes=15)]


def _refused_lines(plant: Plant) -> list[str]:
    tables = [pl.read_csv(path, infer_schema=False) for path in (plant.archive / "refused").glob("*.csv")]
    return pl.concat(tables)["line"].to_list()


def test_a_clock_without_a_date_is_no_reading(drafted: Drafted) -> None:
    """MaxWSpdT is the quarter hour's time of the strongest wind, written as "23:52"."""
    done, folder = drafted(WEATHER, zone="-06:00")
    assert "MaxWSpdT" in load(folder).file.reading.ignore_columns
    assert "MaxWSpdT" not in {tag.export_name for tag in done.draft.tags}


def test_readings_that_a_technician_flagged_are_stored_like_any_other(drafted: Drafted) -> None:
    """Line 42: 91.9 % oxygen, flagged "<-3> [SSD]", rejected for sensor drift. Flags are judgement."""
    _, folder = drafted(FLAGGED, zone="-05:00")
    plant = load(folder)
    assert take_in(plant, now=NOW).exit_status == 0
    at = datetime(2020, 8, 4, 11, 45, tzinfo=UTC)  # "08/04/2020 6:45", Eastern Standard Time
    row = _values(plant, "DO_Pct").filter(pl.col("time") == at).row(0, named=True)
    assert (row["value"], row["quality"]) == (91.9, "good")


def test_utc_stamps_run_across_the_year_and_a_second_delivery_is_known(drafted: Drafted) -> None:
    done, folder = drafted(*YEAR_END)
    assert (done.draft.zone.value, done.draft.zone.evidence) == (
        "UTC",
        "the time column is called 'datetime_utc'",
    )
    assert _drafts(done)["discharge_cfs"].guesses["unit"].value == "cfs"
    plant = load(folder)
    intake = take_in(plant, now=NOW)
    first, second = intake.deliveries
    # Six days; then five days of which 31 December (96 quarter hours) was delivered before.
    assert (first.read, first.stored) == (576, 576)
    assert (second.read, second.stored, second.known, second.superseded) == (480, 384, 96, 0)
    flow = _values(plant, "discharge_cfs")
    assert flow.height == 10 * 96
    assert flow["time"].diff().drop_nulls().unique().to_list() == [timedelta(minutes=15)]
    midnight = flow.filter(pl.col("time") == datetime(2010, 1, 1, tzinfo=UTC))
    assert midnight["value"].to_list() == [596.0]  # line "2010-01-01 00:00:00,596.0"
