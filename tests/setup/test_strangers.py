"""Exports that a stranger brings: refused with a sentence that helps, or drafted without a silent guess."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.errors import RefusedError
from pipeline.setup.table import table
from pipeline.setup.write import setup

NOW = datetime(2027, 1, 1, tzinfo=UTC)
TIMES = [f"2026-01-{day:02d} {hour:02d}:00" for day in (5, 6) for hour in range(24)]


def _drafted(tmp_path: Path, text: str) -> str:
    (tmp_path / "exports").mkdir()
    (tmp_path / "exports" / "x.csv").write_text(text, encoding="utf-8")
    return table(setup(tmp_path / "plant", [tmp_path / "exports"], "UTC", now=NOW).draft)


@pytest.mark.parametrize("by_time", [True, False])
@pytest.mark.parametrize("tags", [("AIT-1", "FIT-2"), ("101", "102")])
def test_a_column_of_tags_under_a_heading_nobody_knows(tmp_path, by_time, tags):
    """One tag a line, read as columns, would leave of each instant the last tag alone."""
    lines = [f"{time};{tag};{n}" for n, time in enumerate(TIMES) for tag in tags]
    lines = lines if by_time else [*lines[::2], *lines[1::2]]
    with pytest.raises(RefusedError, match=rf"its column 'Gizmo' \({tags[0]}, {tags[1]}\)"):
        _drafted(tmp_path, "\n".join(["When;Gizmo;Amount", *lines]))


def test_a_remark_beside_each_reading_is_no_tag(tmp_path):
    lines = [f"{time};{('calm', 'windy')[n % 2]};{n}" for n, time in enumerate(TIMES)]
    assert "Amount" in _drafted(tmp_path, "\n".join(["When;Weather;Amount", *lines]))


def test_thousands_with_a_point_where_another_column_has_decimals_with_a_comma(tmp_path):
    """As many numbers with a point as with a comma: 1.100 is eleven hundred, as `ingest` reads it."""
    lines = [f"{time};{1 + n % 9}.{100 + n};350,{n % 10}" for n, time in enumerate(TIMES)]
    shown = _drafted(tmp_path, "\n".join(["Time;FIT-1;FIT-2", *lines]))
    assert "decimal_mark = ,: numbers such as '350,0'" in shown
    assert "0 to 20000" in shown


def test_a_decimal_mark_that_nothing_tells_is_asked_for(tmp_path):
    lines = [f"{time};{1 + n % 9},{100 + n}" for n, time in enumerate(TIMES)]
    shown = _drafted(tmp_path, "\n".join(["Time;FIT-1", *lines]))
    assert "decimal_mark: numbers such as '1,100' can be read both ways: say which" in shown


def test_a_line_of_averages_has_no_say_in_the_decimal_mark(tmp_path):
    """Its point made the commas of all readings doubtful, and three tags of four no readings."""
    lines = [f"{tag}|{time}|{n % 9},{n % 7}" for n, time in enumerate(TIMES) for tag in ("AIT-1", "FIT-2")]
    shown = _drafted(tmp_path, "\n".join(["Tag|Time|Value", *lines, "Average|1.5|1.5"]))
    assert "decimal_mark = ,: numbers such as" in shown
    assert "AIT-1" in shown and "FIT-2" in shown


def test_exports_with_a_comma_beside_a_workbook_with_points(tmp_path):
    """A workbook's numbers come out with a point, whatever the recorder of the others writes."""
    folder = tmp_path / "exports"
    folder.mkdir()
    comma = [f"{time};0,0{10 + n}" for n, time in enumerate(TIMES)]
    point = [f"{time},{20 + n / 10}" for n, time in enumerate(TIMES)]
    (folder / "a.csv").write_text("\n".join(["Time;AIT-1", *comma]), encoding="utf-8")
    (folder / "b.csv").write_text("\n".join(["Time,FIT-2", *point]), encoding="utf-8")
    draft = setup(tmp_path / "plant", [folder], "UTC", now=NOW).draft
    assert [tag.tag for tag in draft.tags] == ["AIT-1", "FIT-2"]
    shown = table(draft)
    assert "ignored" not in shown and "say which" not in shown
    assert "0 to 50" in shown  # 20.0 to 24.7, no 200 to 247


def test_thousands_alone_between_semicolons_are_asked_for(tmp_path):
    lines = [f"{time};{1 + n % 9}.{100 + n}" for n, time in enumerate(TIMES)]
    shown = _drafted(tmp_path, "\n".join(["Time;FIT-1", *lines]))
    assert "decimal_mark: numbers such as '1.100' can be read both ways: say which" in shown


def test_the_largest_number_of_a_computer_is_no_span(tmp_path):
    """IEEE 754: the largest double is 1.7976931348623157e308."""
    lines = [f"{time},{n}" for n, time in enumerate(TIMES)] + ["2026-01-07 00:00,1.7976931348623157E+308"]
    assert "FIT-1" in _drafted(tmp_path, "\n".join(["Time,FIT-1", *lines]))


def test_a_unit_nobody_knows_is_asked_for(tmp_path):
    lines = [f"{time},{n}" for n, time in enumerate(TIMES)]
    assert "FIT-1: is 'gpm x10' a unit?" in _drafted(tmp_path, "\n".join(["Time,FIT-1 (gpm x10)", *lines]))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Time,AIT-1\n" + "".join(f"{time},7,1\n" for time in TIMES), "line 2: the line has 3 cells"),
        ("Time,A,A\n" + "".join(f"{time},7,1\n" for time in TIMES), "'A' stands more than once"),
        (
            "Time,AIT-1\n" + "".join(f"2026-W{week:02d}-1T00:00,7\n" for week in range(1, 30)),
            "'2026-W01-1T00:00'",
        ),
        (
            "Time,AIT-1\n" + "".join(f"26/01/02 {hour:02d}:00,7\n" for hour in range(24)),
            "a year of two digits",
        ),
    ],
)
def test_what_is_refused_is_said_with_an_instance(tmp_path, text, said):
    with pytest.raises(RefusedError, match=said):
        _drafted(tmp_path, text)


@pytest.mark.parametrize(
    ("code", "asked"),
    [
        ("0", "quality: 0 of 48 readings are good as we read '0'"),
        ("1", "quality: 0 of 48 readings are good as we read '1'"),
        ("Not Good", "quality: 'Not Good': no word and no code that we know"),
        ("192", ""),
    ],
)
def test_a_quality_that_leaves_nothing_good_is_asked_about(tmp_path, code, asked):
    lines = [f"{time},AIT-1,{n},{code}" for n, time in enumerate(TIMES)]
    shown = _drafted(tmp_path, "\n".join(["Time,Tag,Value,Quality", *lines]))
    assert asked in shown if asked else "quality:" not in shown


def test_a_clock_that_had_lost_its_time_is_asked_about(tmp_path):
    lines = [f"{time},{n}" for n, time in enumerate(["1970-01-01 00:00", *TIMES])]
    shown = _drafted(tmp_path, "\n".join(["Time,AIT-1", *lines]))
    assert "1 times long before the others, such as 1970-01-01 00:00:00" in shown
    assert "not_before = 2026-01-05" in shown


def test_an_export_whose_times_cannot_be_read_costs_the_others_nothing(tmp_path):
    (tmp_path / "exports").mkdir()
    halves = [f"2026-01-05 {(hour + 11) % 12 + 1:02d}:00" for hour in range(24)]
    for name, times in (("a", halves), ("b", TIMES)):
        lines = [f"{time},{n}" for n, time in enumerate(times)]
        (tmp_path / "exports" / f"{name}.csv").write_text("\n".join([f"Time,{name}-1", *lines]))
    done = setup(tmp_path / "plant", [tmp_path / "exports"], "UTC", now=NOW)
    assert [tag.tag for tag in done.draft.tags] == ["b-1"]
    assert ["no hour but 1 to 12" in fault.problem for fault in done.faults] == [True]
