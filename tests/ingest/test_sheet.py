"""Lines and cells: whatever a line looks like, it is read, refused or blank, and costs no other line."""

import csv

from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.head import head_of
from pipeline.ingest.sheet import Sheet

HEADER = "Time,A,B\n"


def _rows(body: str) -> tuple[list[tuple[object, ...]], dict[int, str]]:
    text = HEADER + body
    cells, refused = Sheet("x", text.encode(), head_of(text)).rows()
    return cells.rows(), dict(refused.select("line", "reason").iter_rows())


def test_whole_lines() -> None:
    assert _rows("1,2,3\n4, 5 ,\n") == ([("1", "2", "3", 2), ("4", "5", "", 3)], {})


def test_short_long_and_cut_off_lines_are_refused_alone() -> None:
    cells, refused = _rows("1,2,3\n4,5\n6,7,8,9\n10,11,12\n13,1")
    assert [row[-1] for row in cells] == [2, 5]
    assert refused == {
        3: "the line has 2 cells, the header has 3",
        4: "the line has 4 cells, the header has 3",
        6: "the line has 2 cells, the header has 3",
    }


def test_a_short_and_a_long_line_do_not_make_up_for_each_other() -> None:
    cells, refused = _rows("1,2\n3,4,5,\n")
    assert cells == []
    assert set(refused) == {2, 3}


def test_a_quote_that_is_not_closed_costs_its_own_line() -> None:
    # RFC 4180 lets a quoted field run over line ends; in a trend export that is always damage.
    cells, refused = _rows('1,"2,3\n4,5,6\n7,"8",9\n')
    assert [row[:3] for row in cells] == [("4", "5", "6"), ("7", "8", "9")]
    assert refused == {2: "a quote is opened and not closed on this line"}


def test_quoted_cells_as_in_rfc_4180() -> None:
    cells, refused = _rows('"1","2,5","say ""hi"""\n')
    assert cells == [("1", "2,5", 'say "hi"', 2)]
    assert refused == {}


def test_blank_lines_do_not_shift_the_line_numbers() -> None:
    cells, refused = _rows("\n1,2,3\r\n\r\n,,\n4,5,6\n\x00\x00\x00\x1a")
    assert [row[-1] for row in cells if row[0]] == [3, 6]
    assert refused == {}


def test_only_a_line_feed_ends_a_line() -> None:
    # U+0085, U+2028 and the form feed end a line for some programs, and stand inside a cell for others.
    text = "Time,A\x0c,B\u2028\u0085\n1,2,3\n"
    head = head_of(text)
    assert head.header_line == 1
    assert len(head.header) == 3
    assert Sheet("x", text.encode(), head).rows()[0].rows() == [("1", "2", "3", 2)]


def test_text_before_and_after_the_header_keeps_its_line() -> None:
    text = "\n\n" + HEADER + "1,2,3\n"
    cells, _ = Sheet("x", text.encode(), head_of(text)).rows()
    assert cells.rows() == [("1", "2", "3", 4)]


pieces = st.sampled_from(
    ["1", "2.5", "", " ", '"', '""', '"a,b"', "x", ",", ",", ",", "\n", "\n", "\r\n", "é", "\x00"]
)


@given(st.lists(pieces, max_size=60).map("".join))
def test_every_line_is_read_refused_or_blank(body: str) -> None:
    text = HEADER + body
    cells, refused = Sheet("x", text.encode(), head_of(text)).rows()
    read = {line: row for *row, line in cells.iter_rows()}
    lines = text.rstrip("\0\x1a").split("\n")[1:]  # what fills up the last block is no text
    for number, line in enumerate(lines, 2):
        line = line.removesuffix("\r")
        if number in read:
            assert read[number] == [cell.strip() for cell in next(csv.reader([line]))]
            assert number not in set(refused["line"])
        elif number not in set(refused["line"]):
            assert line.strip(" \t\r\x00\x1a,") == ""
    assert read.keys() | set(refused["line"]) <= set(range(2, len(lines) + 2))
