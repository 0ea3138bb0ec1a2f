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
def test_a_column_of_tags_under_a_heading_nobody_knows(tmp_path, by_time):
    """One tag a line, read as columns, would leave of each instant the last tag alone."""
    lines = [f"{time};{tag};{n}" for n, time in enumerate(TIMES) for tag in ("AIT-1", "FIT-2")]
    lines = lines if by_time else [*lines[::2], *lines[1::2]]
    with pytest.raises(RefusedError, match=r"the tag in its column 'Gizmo' \(AIT-1, FIT-2\)"):
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


def test_a_unit_nobody_knows_is_asked_for(tmp_path):
    lines = [f"{time},{n}" for n, time in enumerate(TIMES)]
    assert "FIT-1: is 'gpm x10' a unit?" in _drafted(tmp_path, "\n".join(["Time,FIT-1 (gpm x10)", *lines]))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Time,AIT-1\n" + "".join(f"{time},7,1\n" for time in TIMES), "line 2: the line has 3 cells"),
        ("Time,A,A\n" + "".join(f"{time},7,1\n" for time in TIMES), "'A' stands more than once"),
        ("Time,AIT-1\n" + "".join(f"2026-{day:03d}T00:00,7\n" for day in range(1, 30)), "'2026-001T00:00'"),
        (
            "Time,AIT-1\n" + "".join(f"26/01/02 {hour:02d}:00,7\n" for hour in range(24)),
            "a year of two digits",
        ),
    ],
)
def test_what_is_refused_is_said_with_an_instance(tmp_path, text, said):
    with pytest.raises(RefusedError, match=said):
        _drafted(tmp_path, text)
