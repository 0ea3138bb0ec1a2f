"""The config: every fault of every file in one error, each with its file, row and column."""

from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.config.load import Plant, load
from pipeline.errors import ConfigError, Fault

MakePlant = Callable[..., Plant]


def _faults(folder: Path) -> list[Fault]:
    with pytest.raises(ConfigError) as error:
        load(folder)
    assert all(fault.problem and fault.remedy for fault in error.value.faults)
    assert str(error.value).count("\n") == len(error.value.faults) - 1
    return list(error.value.faults)


def _where(faults: list[Fault]) -> list[tuple[str, int | None, str | None]]:
    return [(fault.file, fault.row, fault.column) for fault in faults]


def _append(folder: Path, name: str, text: str) -> None:
    with (folder / "config" / name).open("a", encoding="utf-8") as file:
        file.write(text)


def test_a_sound_config(make_plant: MakePlant) -> None:
    plant = make_plant()
    assert plant.name == "Small plant"
    assert list(plant.tags) == ["AIT-1", "YS-1", "AIT-2", "TIT-2", "FIT-2"]
    assert plant.tags["AIT-1"].name_in_export == "Filter turbidity"
    assert plant.tags["YS-1"].states == {"off": 0.0, "on": 1.0}
    assert plant.tags["AIT-1"].sentinels == (-99.0, 9999.0)


def test_every_fault_of_every_file_at_once(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    _append(folder, "plant.toml", '[[state]]\nname = "2nd"\nwhen = "YS-1 =="\n')
    _append(
        folder,
        "tags.csv",
        "AIT-3,,filters,ph,wibble,,,,,,\n"
        "AIT-1,,filters,ph,pH,,,,,,\n"
        "AIT-4,,filters,ph,pH,,low,,,On,x\n"
        ",,filters,ph,pH,,,,,,\n"
        "AIT-5,,filters,ph\n",
    )
    _append(folder, "instruments.csv", "AE-2,probe,here,soon\n")
    _append(folder, "limits.csv", "L-2,AIT-1,\nL-3,AIT-1,high\n")
    assert _where(_faults(folder)) == [
        ("config/instruments.csv", 3, None),
        ("config/limits.csv", 3, None),
        ("config/limits.csv", 4, "high"),
        ("config/plant.toml", 19, "state.0.name"),
        ("config/plant.toml", 20, "state.0.when"),
        ("config/tags.csv", 7, "unit"),
        ("config/tags.csv", 8, "tag"),
        ("config/tags.csv", 9, "low"),
        ("config/tags.csv", 9, "sentinels"),
        ("config/tags.csv", 9, "states"),
        ("config/tags.csv", 10, "tag"),
        ("config/tags.csv", 11, None),
    ]


def test_what_one_file_says_of_another_is_checked(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    _append(
        folder,
        "tags.csv",
        "AIT-3,,cellar,ph,pH,,,,AE-9,,\nAIT-4,AIT-2,filters,ph,pH,,,,,,\nAIT-5,,filters,ph,pH,mg/L,,,,,\n",
    )
    _append(folder, "limits.csv", "L-2,AIT-9,1\n")
    assert _where(_faults(folder)) == [
        ("config/limits.csv", 3, "tag"),
        ("config/tags.csv", 7, "area"),
        ("config/tags.csv", 7, "instrument"),
        ("config/tags.csv", 8, "export_name"),
        ("config/tags.csv", 9, "export_unit"),
    ]


@pytest.mark.parametrize(
    ("text", "row", "problem"),
    [
        ("name = Small\n", 1, "not TOML"),
        ('name = "A"\ntime_zone = "Mars"\n[[area]]\nid = "a"\nname = "A"\nplant = "water"\n', 2, "'Mars'"),
        ('name = "A"\ntime_zone = "UTC"\n[[area]]\nid = "a"\nname = "A"\nplant = "gas"\n', 6, "'gas'"),
        ('name = "A"\ntime_zone = "UTC"\narea = []\n', 3, "no area"),
    ],
)
def test_plant_toml_names_the_line(make_plant: MakePlant, text: str, row: int, problem: str) -> None:
    folder = make_plant().folder
    (folder / "config/plant.toml").write_text(text)
    fault = next(fault for fault in _faults(folder) if fault.file == "config/plant.toml")
    assert fault.row == row
    assert problem in fault.problem


def test_a_missing_column_and_one_we_do_not_know(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    (folder / "config/tags.csv").write_text("tag,area,measure\nA,filters,ph\n")
    faults = [fault for fault in _faults(folder) if fault.file == "config/tags.csv"]
    assert _where(faults) == [("config/tags.csv", 1, "measure"), ("config/tags.csv", 1, "measures")]
    assert [fault.problem for fault in faults] == ["is not a column we know", "the column is missing"]


def test_missing_files_and_a_missing_folder(make_plant: MakePlant, tmp_path: Path) -> None:
    folder = make_plant().folder
    (folder / "config/tags.csv").unlink()
    assert ("config/tags.csv", None, None) in _where(_faults(folder))
    assert ("config/plant.toml", None, None) in _where(_faults(tmp_path / "nowhere"))


def test_a_spreadsheet_may_save_with_a_byte_order_mark(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    path = folder / "config/tags.csv"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert list(load(folder).tags) == ["AIT-1", "YS-1", "AIT-2", "TIT-2", "FIT-2"]


def test_an_instrument_guards_limits_that_there_are(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    (folder / "config" / "instruments.csv").write_text("instrument,guards\nAE-1,L-1 | L-9\n")
    assert _where(_faults(folder)) == [("config/instruments.csv", 2, "guards")]
    # A limit that fell out for its own fault is not reported again by those that name it.
    (folder / "config" / "instruments.csv").write_text("instrument,guards\nAE-1,L-2\n")
    _append(folder, "limits.csv", "L-2,AIT-1,high\n")
    assert _where(_faults(folder)) == [("config/limits.csv", 3, "high")]


def test_a_span_goes_upwards(make_plant: MakePlant) -> None:
    """Turned round it would put every reading outside it."""
    plant = make_plant()
    tags = plant.folder / "config" / "tags.csv"
    tags.write_text(tags.read_text().replace("NTU,,0,5,", "NTU,,5,0,"))
    (fault,) = _faults(plant.folder)
    assert (fault.file, fault.row) == ("config/tags.csv", 2)
    assert "5 is not below high 0" in str(fault)


def test_a_fault_hides_no_other(make_plant: MakePlant) -> None:
    """The contract: all faults at once, those between files beside those within one."""
    folder = make_plant().folder
    text = (folder / "config/plant.toml").read_text().replace('plant = "water"', 'plant = "gas"', 1)
    state = '[[state]]\nname = "on"\nwhen = "YS-1 =="\n[[state]]\nname = "off"\nwhen = "YS-9 == 0"\n'
    (folder / "config/plant.toml").write_text(f"speed = 1\n{text}{state}[checks.gab]\n")
    (folder / "config/instruments.csv").write_text(
        "instrument,service_days,guards\nAE-1,soon,L-9\nAE-2,,L-2\n"
    )
    _append(folder, "tags.csv", "AIT-3,,cellar,ph,wibble,,,,AE-9,,\nAIT-4,,filters,ph,pH,mg/L,,,AE-1,,\n")
    _append(folder, "limits.csv", "L-2,AIT-9,\nL-3,AIT-3,1\n")
    with pytest.raises(ConfigError) as error:
        load(folder, statistics={"instantaneous": ()}, checks=["gap"])
    assert _where(error.value.faults) == [
        ("config/instruments.csv", 2, "guards"),
        ("config/instruments.csv", 2, "service_days"),
        ("config/limits.csv", 3, None),
        ("config/limits.csv", 3, "tag"),
        ("config/plant.toml", None, "checks.gab"),
        ("config/plant.toml", None, "state.off.when"),
        ("config/plant.toml", 1, "speed"),
        ("config/plant.toml", 13, "area.0.plant"),
        ("config/plant.toml", 21, "state.0.when"),
        # AIT-3, whose unit cannot be read, and the area at fault are spoken of and are no faults there.
        ("config/tags.csv", 7, "area"),
        ("config/tags.csv", 7, "instrument"),
        ("config/tags.csv", 7, "unit"),
        ("config/tags.csv", 8, "export_unit"),
    ]


def test_a_file_that_cannot_be_read_hides_no_other_and_misses_nothing(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    (folder / "config/plant.toml").write_text("name = Small\n")
    (folder / "config/instruments.csv").unlink()
    (folder / "config/limits.csv").write_text("limit_id,tag,hihg\nL-1,AIT-9,0.3\n")
    _append(folder, "tags.csv", "AIT-3,,cellar,ph,pH,,,,AE-9,,\nAIT-4,,filters,ph,wibble,,,,,,\n")
    assert _where(_faults(folder)) == [
        ("config/instruments.csv", None, None),
        ("config/limits.csv", 1, "hihg"),
        ("config/limits.csv", 2, "tag"),
        ("config/plant.toml", 1, None),
        ("config/tags.csv", 8, "unit"),
    ]


def test_a_name_that_cannot_be_read_may_be_any(make_plant: MakePlant) -> None:
    """Whose cell is blank may be the one spoken of: that is no second fault."""
    folder = make_plant().folder
    _append(folder, "tags.csv", ",,filters,ph,pH,,,,,,\n")
    _append(folder, "limits.csv", "L-2,AIT-9,1\n")
    assert _where(_faults(folder)) == [("config/tags.csv", 7, "tag")]


def test_the_ninth_and_the_tenth_area_may_both_be_wrong(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    areas = [
        f'[[area]]\nid = "a{n}"\nname = "A"\nplant = "{"gas" if n > 8 else "water"}"\n' for n in range(12)
    ]
    _append(folder, "plant.toml", "".join(areas))
    assert [column for _, _, column in _where(_faults(folder))] == [f"area.{n}.plant" for n in (11, 12, 13)]


CELLS = {
    (
        "plant.toml",
        '[[state]]\nname = "2 on"\nwhen = "YS-1 == 1"\n',
    ): "'2 on': not one word; begin with a letter",
    (
        "plant.toml",
        '[[area]]\nid = "Lift 2"\nname = "L"\nplant = "water"\n',
    ): "'Lift 2': not a short name; write",
    (
        "plant.toml",
        '[[path]]\nfrom = "filters"\nto = "clearwell"\nminutes = -3\n',
    ): "-3 is not 0 or above; write",
    ("plant.toml", '[reading]\nnot_before = "spring"\n'): "'spring' is not a day; write it as 2026-11-09",
    ("plant.toml", "[checks]\ngap = 4\n"): "4 is not a table; README.md shows",
    (
        "plant.toml",
        '[reading]\ndate_order = "x"\n',
    ): "'x' is not one of the words known here; use 'month_first' or",
    ("limits.csv", "L-2,AIT-2,much\n"): "'much' is not a number; write a plain number such as 0.85",
    ("limits.csv", "L-2,AIT-2,nan\n"): "'nan' is not a number; write a plain number such as 0.85",
}


@pytest.mark.parametrize("cell", CELLS, ids=str)
def test_what_is_wanted_is_said_in_plain_words(make_plant: MakePlant, cell: tuple[str, str]) -> None:
    folder = make_plant().folder
    _append(folder, *cell)
    (fault,) = _faults(folder)
    assert CELLS[cell] in str(fault)
    assert not {"Input", "String", "match", "valid"} & set(str(fault).split())


def _with_semicolons(folder: Path, name: str) -> Path:
    """Save a table as a spreadsheet does where the comma is the decimal mark."""
    import csv

    path = folder / "config" / name
    with path.open(newline="", encoding="utf-8") as file:
        rows = [[_with_comma(cell) for cell in row] for row in csv.reader(file)]
    with path.open("w", newline="", encoding="utf-8-sig") as file:
        csv.writer(file, delimiter=";").writerows(rows)
    return path


def _with_comma(cell: str) -> str:
    whole, point, part = cell.partition(".")
    return f"{whole},{part}" if point and whole.lstrip("-").isdigit() and part.isdigit() else cell


@pytest.mark.parametrize("name", ["tags.csv", "instruments.csv", "limits.csv"])
def test_a_table_that_a_spreadsheet_saved_with_semicolons_is_the_same(
    make_plant: MakePlant, name: str
) -> None:
    folder = make_plant().folder
    _append(folder, "tags.csv", "AIT-3,,filters,ph,pH,,5.5,9.25,,,-9.9|99\n")
    _append(folder, "instruments.csv", "AE-3,pH probe,hall\n")
    _append(folder, "limits.csv", "L-9,AIT-3,8.5\n")
    before = load(folder)
    _with_semicolons(folder, name)
    after = load(folder)
    assert (after.tags, after.instruments, after.limits) == (before.tags, before.instruments, before.limits)


def test_a_number_that_can_be_read_both_ways_is_a_fault(make_plant: MakePlant) -> None:
    """1,388 is one and a bit where the comma is the decimal mark; where it parts thousands it is not."""
    folder = make_plant().folder
    path = _with_semicolons(folder, "tags.csv")
    text = path.read_text(encoding="utf-8")
    path.write_text(text + "AIT-3;;filters;conductivity;uS/cm;;0;1,388;;;\n", encoding="utf-8")
    (fault,) = _faults(folder)
    assert (fault.file, fault.column) == ("config/tags.csv", "high")
    assert "'1,388' can be 1.388 or 1388" in str(fault)
    path.write_text(text + "AIT-3;;filters;ph;pH;;0,5;1,388;;;\n", encoding="utf-8")
    assert load(folder).tags["AIT-3"].high == 1.388
    path.write_text(text + "AIT-3;;filters;ph;pH;;0,5;1.388;;;\n", encoding="utf-8")
    assert "'1.388' can be 1.388 or 1388" in str(_faults(folder)[0])


def test_names_stand_once(make_plant: MakePlant) -> None:
    folder = make_plant().folder
    twice = '[[area]]\nid = "filters"\nname = "Again"\nplant = "water"\n'
    state = '[[state]]\nname = "on"\nwhen = "YS-1 == 1"\n'
    _append(folder, "plant.toml", twice + state + state)
    faults = _faults(folder)
    assert _where(faults) == [("config/plant.toml", None, "area"), ("config/plant.toml", None, "state")]
    assert all("stands more than once" in fault.problem for fault in faults)


def test_a_tag_is_no_twin_of_its_own_and_a_word_no_two_states(make_plant: MakePlant) -> None:
    tags = (
        "tag,area,measures,unit,twin,states\n"
        "AIT-1,filters,ph,pH,AIT-1,\n"
        "YS-1,filters,state,1,,0=On|1=on\n"
        "YS-2,filters,state,1,,0=Off|1=On|2=Off peak\n"
    )
    with pytest.raises(ConfigError) as error:
        make_plant(tags=tags)
    faults = [fault for fault in error.value.faults if fault.column in ("twin", "states")]
    assert _where(faults) == [("config/tags.csv", 2, "twin"), ("config/tags.csv", 3, "states")]


@pytest.mark.parametrize("name", ["cp1252", "cp1251", "shift_jis", "utf-8"])
def test_an_encoding_that_python_knows(make_plant: MakePlant, name: str) -> None:
    assert make_plant(reading=f'encoding = "{name}"').file.reading.encoding == name


def test_an_encoding_that_nobody_knows(make_plant: MakePlant) -> None:
    with pytest.raises(ConfigError, match=r"reading\.encoding: 'klingon': not an encoding we know"):
        make_plant(reading='encoding = "klingon"')
