"""Upsets of the demo's last week, by the job and by its verbs, against what the simulator put there.

The truth is the simulator's script: filter 3 breaks through on 11 November at 13:15, the storm of the 12th
begins at 04:30, hypochlorite loses its prime at 00:15 on the 14th, 105 minutes before the entry point shows
it.
"""

import json
import shutil
from datetime import datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.demo.script import CONTACT_MINUTES, EXCURSIONS
from tests.job.conftest import REPOSITORY, Stillwell, copy_plant

HEADER = "upset_id,start,end,severity,first_mover,tags,limits_touched,summary"
CHLORINE = "clearwell.2026-11-14T0715Z"
MOST_BYTES = 8_000_000


@pytest.fixture(scope="module")
def listed(week: Path) -> dict[str, dict[str, str]]:
    rows = pl.read_csv(week / "upsets.csv", infer_schema=False).fill_null("")
    return {row["upset_id"]: row for row in rows.iter_rows(named=True)}


def test_the_columns_are_the_contract_s(week: Path) -> None:
    assert (week / "upsets.csv").read_text(encoding="utf-8").splitlines()[0] == HEADER


def test_every_excursion_of_an_instant_lies_in_an_upset(
    week: Path, listed: dict[str, dict[str, str]]
) -> None:
    instants = pl.read_csv(REPOSITORY / "config" / "limits.csv").filter(
        pl.col("statistic") == "instantaneous"
    )
    episodes = pl.read_csv(week / "excursions.csv").filter(
        pl.col("limit_id").is_in(instants["limit_id"].implode())
    )
    assert episodes.height >= 3
    for limit_id, start in episodes.select("limit_id", "start").iter_rows():
        holding = [row for row in listed.values() if limit_id in row["limits_touched"].split("|")]
        assert any(row["start"] <= start <= (row["end"] or "9") for row in holding), limit_id


def test_the_feed_went_before_the_chlorine(listed: dict[str, dict[str, str]]) -> None:
    truth = next(one for one in EXCURSIONS if one.tag == "AIT-131" and one.start.startswith("2026-11"))
    entry = datetime.fromisoformat(truth.start)
    row = listed[CHLORINE]
    assert row["first_mover"] == "FIT-132"
    began = datetime.fromisoformat(row["start"]).replace(tzinfo=None)
    assert (entry - began).total_seconds() / 60 == CONTACT_MINUTES


def test_the_break_through_and_the_storm_begin_where_they_did(listed: dict[str, dict[str, str]]) -> None:
    (through,) = [row for row in listed.values() if "IFE-123" in row["limits_touched"]]
    assert "AIT-123" in through["first_mover"].split("|")
    (storm,) = [row for row in listed.values() if "LIFT-404" in row["limits_touched"]]
    assert set(storm["first_mover"].split("|")) & {"FIT-501", "LIT-404", "LIT-401", "LIT-402"}


def test_each_has_its_page_and_its_readings(week: Path, listed: dict[str, dict[str, str]]) -> None:
    weekly = (week / "weekly.html").read_text(encoding="utf-8")
    for name in listed:
        page = week / "upsets" / f"{name}.html"
        assert page.stat().st_size <= MOST_BYTES
        assert (week / "upsets" / f"{name}.csv").stat().st_size > 1000
        assert f'href="upsets/{name}.html"' in weekly
    assert (week / "weekly.html").stat().st_size <= 5_000_000


def test_a_doubtful_instrument_is_named_beside_what_it_measured(week: Path) -> None:
    page = (week / "upsets" / f"{CHLORINE}.html").read_text(encoding="utf-8")
    assert "AIT-131 is itself in doubt" in page


def test_the_verb_lists_what_the_report_listed(
    harrow_fork: Path, listed: dict[str, dict[str, str]], stillwell: Stillwell
) -> None:
    words = ("upset", "list", "--from", "2026-11-09", "--to", "2026-11-15", "--format", "csv")
    done = stillwell(harrow_fork, *words)
    assert done.returncode == 0, done.stderr
    found = pl.read_csv(done.stdout.encode(), infer_schema=False).fill_null("")
    for column in ("upset_id", "start", "severity", "first_mover", "tags", "limits_touched"):
        assert found[column].to_list() == [row[column] for row in listed.values()], column


def test_show_tells_it_and_writes_the_page(harrow_fork: Path, tmp_path: Path, stillwell: Stillwell) -> None:
    done = stillwell(harrow_fork, "upset", "show", CHLORINE, "--output", str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert "Hypochlorite feed (FIT-132) left its usual course first" in done.stdout
    assert "possible exceedance, for review" in done.stdout.lower()
    assert (tmp_path / f"{CHLORINE}.html").is_file()


def test_similar_finds_the_night_in_february_when_the_feed_failed_before(
    harrow_fork: Path, stillwell: Stillwell
) -> None:
    earlier = next(one for one in EXCURSIONS if one.tag == "AIT-131" and one.start.startswith("2026-02"))
    done = stillwell(harrow_fork, "upset", "similar", CHLORINE, "--format", "csv")
    best = pl.read_csv(done.stdout.encode(), infer_schema=False).row(0, named=True)
    found = datetime.fromisoformat(best["start"][:19])
    assert abs((found - datetime.fromisoformat(earlier.start)).total_seconds()) <= 6 * 3600


def test_an_unknown_id_is_told_with_what_there_is(harrow_fork: Path, stillwell: Stillwell) -> None:
    done = stillwell(harrow_fork, "upset", "show", "clearwell.2026-11-14T0700Z")
    assert done.returncode == 2
    assert CHLORINE in done.stderr
    assert stillwell(harrow_fork, "upset", "show", "nonsense").returncode == 2


WINDOW = (
    "upset",
    "window",
    "--from",
    "2026-11-12T06:00",
    "--to",
    "2026-11-13T06:00",
    "--tags",
    "FIT-501,LIT-404",
)


@pytest.mark.slow
def test_a_window_reads_the_months_it_needs_and_no_other(
    harrow_fork: Path, tmp_path: Path, stillwell: Stillwell
) -> None:
    """With every month taken away that it has no need of, the page is the same, byte for byte."""
    for name in ("config", "archive", "sample_exports"):
        shutil.copytree(harrow_fork / name, tmp_path / "lean" / name)
    lean = tmp_path / "lean"
    shutil.rmtree(lean / "archive" / ".shapes")
    pages = []
    for plant, out in ((harrow_fork, tmp_path / "a"), (lean, tmp_path / "b")):
        if plant == lean:
            for path in (lean / "archive" / "trends").glob("*/*.parquet"):
                # Eight weeks of moves and of habit, two of looking back, rounded up to quarters of the year.
                if path.stem < "2026-03":
                    path.unlink()
        done = stillwell(plant, *WINDOW, "--output", str(out))
        assert done.returncode == 0, done.stderr
        pages.append({path.name: path.read_bytes() for path in sorted(out.iterdir())})
    assert pages[0] == pages[1]
    assert len(pages[0]) == 2


@pytest.mark.slow
def test_without_its_cache_the_archive_gives_the_same_report(
    harrow_fork: Path, week: Path, stillwell: Stillwell
) -> None:
    kept = {path.name: path.read_bytes() for path in (week / "upsets").iterdir()}
    cache = {path.name: path.read_bytes() for path in (harrow_fork / "archive" / ".shapes").iterdir()}
    shutil.rmtree(harrow_fork / "archive" / ".shapes")
    assert stillwell(harrow_fork, "report", "--week", "2026-W46").returncode == 0
    assert {path.name: path.read_bytes() for path in (week / "upsets").iterdir()} == kept
    again = {path.name: path.read_bytes() for path in (harrow_fork / "archive" / ".shapes").iterdir()}
    assert again == cache


@pytest.mark.slow
def test_a_week_reported_late_has_the_upsets_it_had_on_its_monday(
    harrow_fork: Path, tmp_path: Path, stillwell: Stillwell
) -> None:
    then = copy_plant(tmp_path / "then", keep=lambda name: "2026-W12" <= name[-12:-4] <= "2026-W25")
    whole = copy_plant(tmp_path / "whole", keep=lambda name: "2026-W12" <= name[-12:-4] <= "2026-W30")
    for plant in (then, whole):
        assert stillwell(plant, "ingest").returncode == 0
        assert stillwell(plant, "report", "--week", "2026-W25").returncode == 0
    early, late = (
        {path.name: path.read_bytes() for path in (plant / "reports" / "2026-W25" / "upsets").iterdir()}
        for plant in (then, whole)
    )
    assert early == late
    assert any(name.startswith("filters.2026-06-18") for name in early)


def test_the_notebook_runs_and_finds_the_delay(harrow_fork: Path) -> None:
    book = json.loads((Path(__file__).parent / "upset_night.ipynb").read_text(encoding="utf-8"))
    names = {"PLANT": str(harrow_fork)}
    for cell in book["cells"]:
        if cell["cell_type"] == "code":
            exec("".join(cell["source"]), names)
    assert names["delay"].total_seconds() / 60 == CONTACT_MINUTES  # type: ignore[attr-defined]
    assert names["before"]["score"][0] > 0.45  # type: ignore[index]
    assert "drift" in names["doubts"]["kind"].to_list()  # type: ignore[index]
