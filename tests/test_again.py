"""Known files read once more: what the mended config understands comes in, and nothing newer gives way."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.archive.ledger import read_ledger
from pipeline.archive.refused import read_refused
from pipeline.archive.trends import read
from pipeline.config.load import Plant, load
from pipeline.intake import Intake, take_in

NOW = datetime(2026, 11, 16, 12, tzinfo=UTC)
MakePlant = Callable[..., Plant]
HEAD = "Time,YS-1,AIT-2\n"
DOUBTFUL = HEAD + "2026-01-31 16:45,Hand,1.0\n2026-01-31 17:00,On,1.1\n2026-01-31 17:15,Off,much\n"


def _mend(plant: Plant, old: str, new: str) -> Plant:
    path = plant.folder / "config" / "tags.csv"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    return load(plant.folder)


def _counts(intake: Intake) -> dict[str, int]:
    return {name: intake.total(name) for name in ("read", "stored", "known", "superseded", "refused")}  # type: ignore[arg-type]


def _values(plant: Plant, tag: str) -> list[float | None]:
    return read(plant.archive, [tag]).sort("time").collect()["value"].to_list()


def test_a_state_that_the_config_learns(make_plant: MakePlant) -> None:
    plant = make_plant(a=DOUBTFUL)
    first = take_in(plant, now=NOW)
    assert _counts(first) == {"read": 6, "stored": 4, "known": 0, "superseded": 0, "refused": 2}
    plant = _mend(plant, "0=Off|1=On", "0=Off|1=On|2=Hand")
    assert _counts(take_in(plant, now=NOW))["read"] == 0  # not without being asked
    second = take_in(plant, now=NOW, again=True)
    # "Hand" is new, "much" is refused again, the other four are known.
    assert _counts(second) == {"read": 6, "stored": 1, "known": 4, "superseded": 0, "refused": 1}
    assert _values(plant, "YS-1") == [2.0, 1.0, 0.0]
    lines = read_ledger(plant.archive)
    assert [line.source for line in lines] == [lines[0].source, f"{lines[0].source}-2"]
    assert all(one.read == one.stored + one.known + one.superseded + one.refused for one in lines)
    assert read_refused(plant.archive, lines[1].source)["value"].to_list() == ["much"]


def test_again_with_nothing_mended_changes_no_reading(make_plant: MakePlant) -> None:
    plant = make_plant(a=DOUBTFUL)
    take_in(plant, now=NOW)
    before = read(plant.archive).collect()
    for number in (2, 3):
        again = take_in(plant, now=NOW, again=True)
        assert _counts(again) == {"read": 6, "stored": 0, "known": 4, "superseded": 0, "refused": 2}
        assert again.deliveries[0].source.endswith(f"-{number}")
    assert read(plant.archive).collect().equals(before)


def test_again_leaves_alone_what_was_understood(make_plant: MakePlant) -> None:
    plant = make_plant(a=HEAD + "2026-01-31 16:45,On,1.0\n")
    take_in(plant, now=NOW)
    assert [one.status for one in take_in(plant, now=NOW, again=True).outcomes] == ["known"]


def test_a_named_file_is_read_whatever_was_refused(make_plant: MakePlant) -> None:
    """A sentinel named too late: -99 stands as a reading until its file is read once more."""
    plant = make_plant(a=HEAD + "2026-01-31 16:45,On,-99\n2026-01-31 17:00,On,1.1\n")
    take_in(plant, now=NOW)
    assert _values(plant, "AIT-2") == [-99.0, 1.1]
    plant = _mend(plant, "chlorine,mg/L,,0,5,,,", "chlorine,mg/L,,0,5,,,-99")
    again = take_in(plant, [plant.folder / "trends" / "a.csv"], now=NOW, again=True)
    assert _counts(again) == {"read": 4, "stored": 0, "known": 3, "superseded": 1, "refused": 0}
    assert _values(plant, "AIT-2") == [None, 1.1]


@pytest.mark.parametrize("named", [True, False])
def test_what_came_later_goes_on_standing(make_plant: MakePlant, named: bool) -> None:
    """The plant sent 16:45 again, corrected; the old file read once more must not bring its value back."""
    plant = make_plant(a=DOUBTFUL)
    take_in(plant, now=NOW)
    plant = make_plant(a=DOUBTFUL, b=HEAD + "2026-01-31 16:45,Off,9.0\n")
    take_in(plant, now=NOW)
    plant = _mend(plant, "0=Off|1=On", "0=Off|1=On|2=Hand")
    files = [plant.folder / "trends" / "a.csv"] if named else None
    again = take_in(plant, files, now=NOW, again=True)
    assert _values(plant, "AIT-2") == [9.0, 1.1]
    assert _values(plant, "YS-1") == [0.0, 1.0, 0.0]
    # 16:45 is known of both tags: later rows stand there.
    assert _counts(again) == {"read": 6, "stored": 0, "known": 5, "superseded": 0, "refused": 1}


def test_files_read_once_more_keep_their_order_of_delivery(make_plant: MakePlant) -> None:
    """z.csv came first, a.csv corrected it; both hold a refused reading, and by name a.csv is read first."""
    old = HEAD + "2026-01-31 16:45,Hand,1.0\n2026-01-31 17:00,On,odd\n"
    new = HEAD + "2026-01-31 16:45,Auto,2.0\n2026-01-31 17:15,On,odd\n"
    plant = make_plant(z=old)
    take_in(plant, now=NOW)
    plant = make_plant(z=old, a=new)
    take_in(plant, now=NOW)
    plant = _mend(plant, "0=Off|1=On", "0=Off|1=On|2=Hand|3=Auto")
    again = take_in(plant, now=NOW, again=True)
    assert [one.file for one in again.outcomes] == ["trends/a.csv", "trends/z.csv"]
    assert _values(plant, "AIT-2") == [2.0]
    assert _values(plant, "YS-1")[0] == 3.0
    for one in again.deliveries:
        assert one.read == one.stored + one.known + one.superseded + one.refused


def test_a_tag_that_the_config_learns_does_not_bring_back_old_values(make_plant: MakePlant) -> None:
    """Without being asked: files with tags that were unknown are read once more as soon as they are known."""
    unknown = "Time,AIT-2,AIT-9\n2026-01-31 16:45,1.0,7.0\n"
    plant = make_plant(a=unknown)
    take_in(plant, now=NOW)
    plant = make_plant(a=unknown, b="Time,AIT-2\n2026-01-31 16:45,2.0\n")
    take_in(plant, now=NOW)
    assert _values(plant, "AIT-2") == [2.0]
    path: Path = plant.folder / "config" / "tags.csv"
    path.write_text(path.read_text() + "AIT-9,,clearwell,ph,pH,,0,14,,,\n")
    plant = load(plant.folder)
    again = take_in(plant, now=NOW)
    assert _counts(again) == {"read": 2, "stored": 1, "known": 1, "superseded": 0, "refused": 0}
    assert (_values(plant, "AIT-2"), _values(plant, "AIT-9")) == ([2.0], [7.0])
    assert pl.read_csv(plant.archive / "ledger.csv").height == 3


def test_a_column_that_the_config_ignores_is_not_read(make_plant: MakePlant) -> None:
    plant = make_plant(a="Time,AIT-2,F_AIT-2\n2026-01-31 16:45,1.0,<0> [OK]\n")
    first = take_in(plant, now=NOW)
    assert (first.exit_status, first.total("refused")) == (3, 1)
    plant = make_plant(
        reading='ignore_columns = ["F_*"]', a="Time,AIT-2,F_AIT-2\n2026-01-31 16:45,1.0,<0> [OK]\n"
    )
    again = take_in(plant, now=NOW, again=True)
    assert again.exit_status == 0
    assert _counts(again) == {"read": 1, "stored": 0, "known": 1, "superseded": 0, "refused": 0}


def test_a_tag_of_the_config_is_read_whatever_a_pattern_says(make_plant: MakePlant) -> None:
    plant = make_plant(reading='ignore_columns = ["*"]', a="Time,AIT-2,Note\n2026-01-31 16:45,1.0,fine\n")
    intake = take_in(plant, now=NOW)
    assert (intake.total("stored"), intake.exit_status) == (1, 0)
