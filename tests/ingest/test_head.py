"""Where the header stands, what it names and what is said above it; shapes are common practice, no source."""

from datetime import UTC

import pytest

from pipeline.clock import zone_of
from pipeline.ingest.head import Head, head_of


def _head(*lines: str) -> Head:
    return head_of("\n".join(lines) + "\n")


ROWS = ("2026-01-05 00:00,1,2", "2026-01-05 00:15,1,2")


@pytest.mark.parametrize(
    ("above", "line"),
    [
        ((), 1),
        (("Trend report", "", "Plant: Harrow Fork"), 4),
        (("Trend report,,", "From,2026-01-05 00:00,", "To,2026-01-06 00:00,"), 4),
        (("Time zone,America/Denver", "Start time,2026-01-05 00:00"), 3),
        (("Date,2026-01-05", "Time,08:00"), 3),
        (("Description,Weekly export,",), 2),
    ],
)
def test_the_header_is_found_below_a_preamble(above: tuple[str, ...], line: int) -> None:
    head = _head(*above, "Time,A,B", *ROWS)
    assert head.header == ("Time", "A", "B")
    assert head.header_line == line
    assert head.rows == (("Time", "A", "B"),)


@pytest.mark.parametrize(
    "header",
    [
        ("Tag,A,B", "Unit,mg/L,NTU"),
        ("Time,A,B", ",mg/L,NTU"),
        ("Description,one,two", "Time,A,B"),
        ("Tag,A,B", "Unit,,NTU", "Time,,"),
    ],
)
def test_header_rows_are_taken_together(header: tuple[str, ...]) -> None:
    head = _head(*header, *ROWS)
    assert len(head.rows) == len(header)
    assert head.header_line == len(header)


def test_a_spoilt_first_reading_is_no_header_row() -> None:
    head = _head("Time,A,B", "soon,1,2", *ROWS)
    assert head.header_line == 1


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_the_delimiter_is_the_one_that_finds_a_header(mark: str) -> None:
    lines = ["Report, of one; two | three", *(line.replace(",", mark) for line in ("Time,A,B", *ROWS))]
    assert _head(*lines).delimiter == mark


def test_decimal_commas_do_not_outvote_semicolons() -> None:
    assert _head("Time;A;B", "2026-01-05 00:00;1,5;2,5", "2026-01-05 00:15;1,5;2,5").delimiter == ";"


@pytest.mark.parametrize(("header", "end"), [("Time,A,B", ","), ("Time,A,B,", ","), ("Time,A,B,,", "")])
def test_separators_at_the_ends_of_lines(header: str, end: str) -> None:
    head = _head(header, *(row + end for row in ROWS))
    assert [name for name in head.header if name] == ["Time", "A", "B"]
    assert len(head.header) == 3 + len(end)


@pytest.mark.parametrize(
    ("lines", "zone"),
    [
        (("Time (UTC),A,B",), UTC),
        (("Time zone: -05:00", "Time,A,B"), zone_of("-05:00")),
        (("Time zone,America/Chicago", "Time,A,B"), zone_of("America/Chicago")),
        (("Time zone: somewhere", "Time,A,B"), None),
        (("Time,A,B",), None),
        (("Time (UTC-07:00),A,B",), zone_of("-07:00")),
        (("Time [GMT+1],A,B",), zone_of("+01:00")),
        (("Timestamp UTC,A,B",), UTC),
    ],
)
def test_the_zone_that_the_export_names(lines: tuple[str, ...], zone: object) -> None:
    found = _head(*lines, *ROWS).zone_said
    assert str(found) == str(zone)


def test_the_order_that_the_header_spells_out() -> None:
    assert _head("Date-time (DD/MM/YYYY HH:mm),A,B", *ROWS).order_said == "day_first"
    assert _head("Time [M/D/YYYY],A,B", *ROWS).order_said == "month_first"
    assert _head("Time,A,B", *ROWS).order_said is None
