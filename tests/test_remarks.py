"""Remarks: what was read in good faith and may be meant otherwise is told beside the accounts."""

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.config.load import Plant, load
from pipeline.ingest.stamps import read_stamps
from pipeline.intake import Intake, take_in
from pipeline.say import say_intake

MakePlant = Callable[..., Plant]
NOW = datetime(2026, 11, 16, 12, tzinfo=UTC)
DENVER = ZoneInfo("America/Denver")


def _quarters(count: int) -> list[str]:
    return [f"{datetime(2026, 1, 5) + timedelta(minutes=15 * k):%Y-%m-%d %H:%M}" for k in range(count)]


def _only(intake: Intake) -> tuple[str, ...]:
    (outcome,) = intake.outcomes
    return outcome.remarks


@pytest.mark.parametrize("by_site", [False, True])
def test_two_series_under_one_tag_far_down_are_told(by_site: bool, make_plant: MakePlant) -> None:
    """A second site that joins after 500 lines, line by line or all of it below the first."""
    first = [(stamp, f"{stamp},AIT-2,North,1.{k:03d}") for k, stamp in enumerate(_quarters(600))]
    second = [(stamp, f"{stamp},AIT-2,South,2.{k:03d}") for k, stamp in enumerate(_quarters(600))][500:]
    lines = first + second if by_site else sorted(first + second, key=lambda pair: pair[0])
    plant = make_plant(a="\n".join(["Time,Tag,Site,Value", *(line for _, line in lines), ""]))
    intake = take_in(plant, now=NOW)
    (remark,) = _only(intake)
    assert remark.startswith("100 of its readings (AIT-2) stand in it again at the same time")
    (delivery,) = intake.deliveries
    assert (delivery.read, delivery.stored, delivery.superseded) == (700, 600, 100)
    assert (plant.archive / "superseded" / delivery.source).is_dir()
    assert remark.count(f"archive/superseded/{delivery.source}") == 1


def test_what_a_later_file_changes_is_no_second_series(make_plant: MakePlant) -> None:
    stamps = _quarters(20)
    plant = make_plant(
        a="\n".join(["Time,AIT-2", *(f"{stamp},1.0" for stamp in stamps), ""]),
        b="\n".join(["Time,AIT-2", *(f"{stamp},1.1" for stamp in stamps), ""]),
    )
    intake = take_in(plant, now=NOW)
    assert intake.total("superseded") == 20
    assert [one.remarks for one in intake.outcomes] == [(), ()]


def test_the_remarks_are_printed(make_plant: MakePlant, capsys: pytest.CaptureFixture[str]) -> None:
    lines = "\n".join(f"{stamp},AIT-2,1.0,0" for stamp in _quarters(8))
    say_intake(take_in(make_plant(a=f"Time,Tag,Value,Quality\n{lines}\n"), now=NOW))
    told = capsys.readouterr().err
    assert "trends/a.csv: no reading of it is good: its quality says '0'" in told
    assert "quality_codes" in told


def test_a_code_that_is_good_once_is_not_remarked_upon(make_plant: MakePlant) -> None:
    lines = "\n".join(f"{stamp},AIT-2,1.0,{192 if k == 7 else 0}" for k, stamp in enumerate(_quarters(8)))
    assert _only(take_in(make_plant(a=f"Time,Tag,Value,Quality\n{lines}\n"), now=NOW)) == ()


@pytest.mark.parametrize("order", ["as logged", "newest first"])
@pytest.mark.parametrize("seed", range(5))
def test_a_log_of_many_tags_tells_the_passes_of_the_autumn_night(order: str, seed: int) -> None:
    """Ten tags recorded on change from 00:00 to 04:00 (tz database: America/Denver, 1 November 2026).

    Most have a reading or two in the hour that comes twice, and no step back of their own.
    """
    chance = random.Random(seed)
    instant, rows = datetime(2026, 11, 1, 6, tzinfo=UTC), []
    while instant < datetime(2026, 11, 1, 11, tzinfo=UTC):
        rows.append((chance.choice("ABCDEFGHIJ"), instant))
        instant += timedelta(seconds=chance.randint(5, 400))
    rows = rows if order == "as logged" else rows[::-1]
    written = [(tag, f"{one.astimezone(DENVER):%Y-%m-%d %H:%M:%S}") for tag, one in rows]
    raw = pl.DataFrame(written, ["tag", "when"], orient="row").with_row_index("line")
    read = read_stamps(raw, DENVER, None, "x.csv", one_a_line=False)["time"]
    assert read.to_list() == [one for _, one in rows]


def test_of_tags_one_after_the_other_each_has_a_step_of_its_own() -> None:
    """Two tags, one below the other, that end within the hour: the second begins with its first time."""
    quarters = [datetime(2026, 11, 1, 7, tzinfo=UTC) + timedelta(minutes=15 * k) for k in range(7)]
    rows = [(tag, one) for tag in "AB" for one in quarters]
    written = [(tag, f"{one.astimezone(DENVER):%Y-%m-%d %H:%M}") for tag, one in rows]
    raw = pl.DataFrame(written, ["tag", "when"], orient="row").with_row_index("line")
    read = read_stamps(raw, DENVER, None, "x.csv", one_a_line=False)["time"]
    assert read.to_list() == [one for _, one in rows]


@pytest.mark.parametrize("form", ["%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M"])
def test_the_night_is_read_in_the_order_of_the_whole_file(form: str, make_plant: MakePlant) -> None:
    """31 October tells day from month; 1 November alone can be read both ways."""
    instants = [datetime(2026, 11, 1, 2, tzinfo=UTC) + timedelta(minutes=15 * k) for k in range(40)]
    lines = [f"{one.astimezone(DENVER):{form}},1.{k:02d}" for k, one in enumerate(instants)]
    intake = take_in(make_plant(a="\n".join(["Time,AIT-2", *lines, ""])), now=NOW)
    assert [(one.status, one.remarks) for one in intake.outcomes] == [("read", ())]
    assert intake.total("stored") == 40


@pytest.mark.parametrize(
    "zone", ["Europe/London", "Australia/Lord_Howe", "America/St_Johns", "America/Denver"]
)
@pytest.mark.parametrize("step", [5, 15, 30])
def test_an_hour_shown_twice_is_not_remarked_upon(zone: str, step: int, make_plant: MakePlant) -> None:
    """Clocks of the tz database, of which one comes back to UTC and one steps back half an hour."""
    own = make_plant()
    config = own.folder / "config" / "plant.toml"
    config.write_text(config.read_text().replace("America/Denver", zone))
    clock = ZoneInfo(zone)
    start = datetime(2026, 4, 4, tzinfo=UTC) if zone.startswith("Aus") else datetime(2026, 10, 24, tzinfo=UTC)
    instants = [start + timedelta(minutes=step * k) for k in range(10 * 24 * 60 // step)]
    lines = [f"{one.astimezone(clock):%Y-%m-%d %H:%M},1.0" for one in instants]
    (own.folder / "trends" / "a.csv").write_text("\n".join(["Time,AIT-2", *lines, ""]))
    intake = take_in(load(own.folder), now=NOW)
    assert [one.remarks for one in intake.outcomes] == [()]
    assert intake.total("stored") == len(instants)
