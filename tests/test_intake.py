"""Exports in, archive out: nothing is lost, nothing is read twice, and a run cut short leaves no trace."""

import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import pipeline
from pipeline.archive.ledger import read_ledger
from pipeline.archive.lock import writing
from pipeline.archive.parquet import read_readings
from pipeline.archive.refused import read_refused
from pipeline.archive.trends import read
from pipeline.config.load import Plant, load
from pipeline.errors import BusyError
from pipeline.intake import take_in

NOW = datetime(2026, 11, 16, 12, tzinfo=UTC)
WIDE = "Time,Filter turbidity,YS-1,AIT-2\n2026-01-31 16:45,0.02,On,1.0\n2026-01-31 17:00,0.03,Off,1.1\n"
LONG = "Tag,Time,Value\nTIT-2,2026-02-01 00:00,50\nTIT-2,2026-02-01 00:15,maybe\nAIT-9,2026-02-01 00:00,5\n"
CHANGED = "Time,Filter turbidity,AIT-2\n2026-01-31 16:45,0.02,9.0\n2026-01-31 17:15,0.04,1.2\n"

MakePlant = Callable[..., Plant]


def contents(archive: Path) -> dict[str, bytes]:
    """Every file of the archive but the lock."""
    files = sorted(path for path in archive.rglob("*") if path.is_file() and path.name != ".lock")
    return {path.relative_to(archive).as_posix(): path.read_bytes() for path in files}


def test_what_comes_out_of_a_small_plant(make_plant: MakePlant) -> None:
    plant = make_plant(a=WIDE, b=LONG)
    intake = take_in(plant, now=NOW)
    assert [(one.file, one.status) for one in intake.outcomes] == [
        ("trends/a.csv", "read"),
        ("trends/b.csv", "read"),
    ]
    assert [intake.total(name) for name in ("read", "stored", "known", "superseded", "refused")] == [
        9,
        7,
        0,
        0,
        2,
    ]
    assert intake.exit_status == 3
    assert list(contents(plant.archive)) == [
        "areas.csv",
        "ledger.csv",
        f"refused/{intake.deliveries[1].source}.csv",
        "trends/clearwell/2026-01.parquet",
        "trends/clearwell/2026-02.parquet",
        "trends/filters/2026-01.parquet",
        "trends/filters/2026-02.parquet",
    ]
    refused = read_refused(plant.archive, intake.deliveries[1].source)
    assert refused.columns == ["file", "line", "tag", "when", "value", "reason"]
    assert refused.row(0) == (
        "trends/b.csv",
        "3",
        "TIT-2",
        "2026-02-01 00:15",
        "maybe",
        "'maybe' is not a number",
    )
    celsius = read(plant.archive, ["TIT-2"]).collect()
    assert celsius["value"].round(9).to_list() == [10.0]  # 50 F is 10 C exactly
    assert celsius["raw"].to_list() == ["50"]


def test_the_ledger_line_says_it_all(make_plant: MakePlant) -> None:
    plant = make_plant(a=WIDE)
    (line,) = take_in(plant, now=NOW).deliveries
    data = (plant.folder / "trends/a.csv").read_bytes()
    assert read_ledger(plant.archive) == [line]
    assert (line.file, line.layout, line.bytes, line.read_at) == ("trends/a.csv", "columns", len(data), NOW)
    assert line.sha256.startswith(line.source)
    assert (line.first_time, line.last_time) == (
        datetime(2026, 1, 31, 23, 45, tzinfo=UTC),
        datetime(2026, 2, 1, tzinfo=UTC),
    )


def test_the_same_content_is_known_under_any_name(make_plant: MakePlant) -> None:
    plant = make_plant(a=WIDE)
    take_in(plant, now=NOW)
    before = contents(plant.archive)
    plant = make_plant(a=WIDE, b=WIDE)
    intake = take_in(plant, now=NOW + timedelta(days=7))
    assert [one.status for one in intake.outcomes] == ["known", "known"]
    assert intake.outcomes[1].delivery is not None and intake.outcomes[1].delivery.file == "trends/a.csv"
    assert intake.exit_status == 0
    assert contents(plant.archive) == before


def test_the_same_content_twice_in_one_run_is_read_once(make_plant: MakePlant) -> None:
    intake = take_in(make_plant(a=WIDE, b=WIDE), now=NOW)
    assert [one.status for one in intake.outcomes] == ["read", "known"]


def test_a_changed_value_stands_and_the_old_one_is_kept(make_plant: MakePlant) -> None:
    plant = make_plant(a=WIDE)
    (first,) = take_in(plant, now=NOW).deliveries
    plant = make_plant(b=CHANGED)
    (second,) = take_in(plant, now=NOW).deliveries
    assert (second.read, second.stored, second.known, second.superseded, second.refused) == (4, 2, 1, 1, 0)
    start = datetime(2026, 1, 31, 23, 45, tzinfo=UTC)
    assert read(plant.archive, ["AIT-2"], start, start + timedelta(minutes=1)).collect()[
        "value"
    ].to_list() == [9.0]
    displaced = read_readings(plant.archive / "superseded" / second.source / "clearwell-2026-01.parquet")
    assert displaced.select("tag", "value", "source", "displaced_by").rows() == [
        ("AIT-2", 1.0, first.source, second.source)
    ]


def test_one_bad_file_never_stops_the_others(make_plant: MakePlant) -> None:
    plant = make_plant(a=b"", b=b"PK\x03\x04....", c=WIDE, d="Time,AIT-2\n")
    intake = take_in(plant, [*(plant.folder / "trends").glob("*"), plant.folder / "none.csv"], NOW)
    assert sorted(one.status for one in intake.outcomes) == [
        "read",
        "refused",
        "refused",
        "refused",
        "refused",
    ]
    assert intake.exit_status == 3
    assert len({fault.problem for fault in intake.faults}) == 4
    assert len(read_ledger(plant.archive)) == 1


def test_a_tag_the_config_has_come_to_know_is_taken_up(make_plant: MakePlant) -> None:
    plant = make_plant(b=LONG)
    (first,) = take_in(plant, now=NOW).deliveries
    assert take_in(plant, now=NOW).outcomes[0].status == "known"
    tags = (plant.folder / "config/tags.csv").read_text() + "AIT-9,,filters,ph,pH,,,,,,\n"
    plant = make_plant(tags=tags)
    (second,) = take_in(plant, now=NOW).deliveries
    assert second.source == f"{first.source}-2"
    assert (second.read, second.stored, second.known, second.superseded, second.refused) == (3, 1, 1, 0, 1)
    assert read(plant.archive, ["AIT-9"]).collect().height == 1
    assert take_in(plant, now=NOW).outcomes[0].status == "known"


def test_a_tag_that_moves_to_another_area_stands_once(make_plant: MakePlant) -> None:
    plant = make_plant(a=WIDE)
    take_in(plant, now=NOW)
    tags = (plant.folder / "config/tags.csv").read_text().replace("YS-1,,filters", "YS-1,,clearwell")
    plant = make_plant(tags=tags, b=WIDE.replace("Off", "On"))
    assert plant.tags["YS-1"].area == "clearwell"
    (delivery,) = take_in(plant, now=NOW).deliveries
    assert (delivery.stored, delivery.known, delivery.superseded) == (0, 5, 1)
    assert read(plant.archive, ["YS-1"]).collect().height == 2


def test_a_second_run_at_the_same_time_is_turned_away(make_plant: MakePlant) -> None:
    plant = make_plant(a=WIDE)
    with writing(plant.archive), pytest.raises(BusyError):
        take_in(plant, now=NOW)


def test_files_come_in_the_order_of_their_names(make_plant: MakePlant) -> None:
    plant = make_plant(b=CHANGED, a=WIDE)
    for name in (".hidden.csv", "~$a.csv", "Thumbs.db", "desktop.ini"):
        (plant.folder / "trends" / name).write_text(WIDE)
    (plant.folder / "trends/2026").mkdir()
    (plant.folder / "trends/2026/c.csv").write_text(LONG)
    files = [one.file for one in take_in(plant, now=NOW).outcomes]
    assert files == ["trends/2026/c.csv", "trends/a.csv", "trends/b.csv"]


@pytest.mark.parametrize("pending", [1, 4, 4_000_000])
def test_how_much_is_merged_at_once_makes_no_difference(
    make_plant: MakePlant, monkeypatch: pytest.MonkeyPatch, pending: int
) -> None:
    plant = make_plant("whole", a=WIDE, b=CHANGED, c=LONG)
    take_in(plant, now=NOW)
    other = make_plant("parts", a=WIDE, b=CHANGED, c=LONG)
    monkeypatch.setattr("pipeline.batch.PENDING_READINGS", pending)
    monkeypatch.setattr("pipeline.batch.HELD_READINGS", pending)
    take_in(other, now=NOW)
    assert contents(other.archive) == contents(plant.archive)


class PowerCutError(BaseException):
    """The machine stops here."""


def _cut_at(monkeypatch: pytest.MonkeyPatch, name: str, call: int) -> None:
    """Make the `call`-th call of an operating-system function the last thing that happens."""
    real = getattr(os, name)
    counter = iter(range(1_000_000))

    def cut(*arguments: object, **options: object) -> object:
        if next(counter) >= call:
            raise PowerCutError
        return real(*arguments, **options)

    monkeypatch.setattr(os, name, cut)


@pytest.mark.parametrize("name", ["replace", "fsync", "unlink"])
def test_a_run_cut_short_anywhere_is_healed_by_running_again(
    make_plant: MakePlant, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    plant = make_plant("undisturbed", a=WIDE)
    take_in(plant, now=NOW)
    shutil.copytree(plant.folder, plant.folder.parent / "start")
    (plant.folder / "trends/b.csv").write_text(CHANGED)
    (plant.folder / "trends/c.csv").write_text(LONG)
    take_in(plant, now=NOW)
    expected = contents(plant.archive)
    for call in range(200):
        folder = plant.folder.parent / f"{name}-{call}"
        shutil.copytree(plant.folder.parent / "start", folder)
        for file in ("b.csv", "c.csv"):
            shutil.copy(plant.folder / "trends" / file, folder / "trends" / file)
        with monkeypatch.context() as patch:
            _cut_at(patch, name, call)
            try:
                take_in(load(folder), now=NOW)
                finished = True
            except PowerCutError:
                finished = False
        if not finished:
            # The second run is cut short too, while it takes the first one back.
            with monkeypatch.context() as patch:
                _cut_at(patch, name, random.Random(call).randrange(4))
                with suppress(PowerCutError):
                    take_in(load(folder), now=NOW)
        take_in(load(folder), now=NOW)
        assert contents(folder / "archive") == expected, call
        if finished:
            break
    assert finished and call >= {"replace": 7, "fsync": 14, "unlink": 1}[name]


KILLED = """
import os, sys
from datetime import datetime
from pathlib import Path
from pipeline.config.load import load
from pipeline.intake import take_in

real, calls = os.replace, iter(range(1000))
os.replace = lambda *names: os._exit(9) if next(calls) == int(sys.argv[2]) else real(*names)
take_in(load(Path(sys.argv[1])), now=datetime.fromisoformat(sys.argv[3]))
"""


@pytest.mark.parametrize("call", [0, 1, 3, 6])
def test_a_killed_process_leaves_no_trace_after_the_next_run(make_plant: MakePlant, call: int) -> None:
    plant = make_plant("undisturbed", a=WIDE)
    take_in(plant, now=NOW)
    shutil.copytree(plant.folder, plant.folder.parent / "killed")
    (plant.folder / "trends/b.csv").write_text(CHANGED)
    take_in(plant, now=NOW)
    folder = plant.folder.parent / "killed"
    (folder / "trends/b.csv").write_text(CHANGED)
    run = [sys.executable, "-c", KILLED, str(folder), str(call), NOW.isoformat()]
    root = Path(pipeline.__file__).parent.parent
    killed = subprocess.run(run, check=False, cwd=root)
    assert killed.returncode == (9 if call < 6 else 0)
    take_in(load(folder), now=NOW)
    assert contents(folder / "archive") == contents(plant.archive)


def test_a_delivery_that_never_finished_is_gone_even_if_its_file_never_comes_again(
    make_plant: MakePlant, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant = make_plant(a=WIDE)
    take_in(plant, now=NOW)
    before = contents(plant.archive)
    plant = make_plant(b=CHANGED)
    with monkeypatch.context() as patch:
        patch.setattr("pipeline.archive.store.write_ledger", _power_cut)
        with pytest.raises(PowerCutError):
            take_in(plant, now=NOW)
    assert contents(plant.archive).keys() > before.keys()
    (plant.folder / "trends/b.csv").unlink()
    take_in(plant, now=NOW)
    assert contents(plant.archive) == before


def _power_cut(*arguments: object) -> None:
    raise PowerCutError


cells = st.sampled_from(["", "1.0", "2.0", "2.5", "Bad", "<0.1", "x", "NaN", '"1,000"', '"'])
exports = st.lists(st.lists(st.tuples(cells, cells), min_size=1, max_size=6), min_size=1, max_size=4)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(exports)
def test_every_reading_of_every_export_is_accounted_for(
    tmp_path_factory: pytest.TempPathFactory, make_plant: MakePlant, files: list[list[tuple[str, str]]]
) -> None:
    folder = tmp_path_factory.mktemp("plant")
    shutil.copytree(make_plant().folder / "config", folder / "config")
    (folder / "trends").mkdir()
    readings = 0
    for number, rows in enumerate(files):
        lines = [
            "Time,AIT-1,AIT-2",
            *(f"2026-01-05 00:{minute:02d},{a},{b}" for minute, (a, b) in enumerate(rows)),
        ]
        (folder / f"trends/{number}.csv").write_text("\n".join([*lines, ""]))
    plant = load(folder)
    intake = take_in(plant, now=NOW)
    seen = set()
    for number, rows in enumerate(files):
        content = (folder / f"trends/{number}.csv").read_bytes()
        if content in seen:
            continue
        seen.add(content)
        # A line with a stray quote is broken and counts as one; any other has a reading for each filled cell.
        readings += sum(1 if '"' in (a, b) else bool(a) + bool(b) for a, b in rows)
    counts = {name: intake.total(name) for name in ("read", "stored", "known", "superseded", "refused")}  # type: ignore[arg-type]
    assert counts["read"] == readings
    assert counts["read"] == counts["stored"] + counts["known"] + counts["superseded"] + counts["refused"]
    assert read(plant.archive).collect().height == counts["stored"]
    displaced = [read_readings(path) for path in (plant.archive / "superseded").rglob("*.parquet")]
    assert sum(frame.height for frame in displaced) == counts["superseded"]
    refused = [read_refused(plant.archive, delivery.source).height for delivery in intake.deliveries]
    assert sum(refused) == counts["refused"]
    keys = read(plant.archive).select("tag", "time").collect()
    assert keys.is_unique().all() if keys.height else isinstance(keys, pl.DataFrame)
