"""Field sheet: every entry with its boxes, in the order of the list, with nothing to decide from memory."""

import re

from pipeline.report.field_sheet import BOXES, MOST_BLOCKS, field_sheet
from pipeline.report.tables import COLUMNS
from tests.report.weeks import NASTY_TAG, empty_week, full_week, nasty_week


def _blocks(page: str) -> list[str]:
    return page.split('<section class="visit"')[1:]


def test_one_block_an_entry_and_one_to_spare() -> None:
    week = full_week()
    blocks = _blocks(field_sheet(week))
    assert len(blocks) == len(week.entries) + 1
    for entry, block in zip(week.entries, blocks, strict=False):
        for text in (entry.finding.instrument, entry.finding.tag, entry.finding.finding_id):
            assert text in block
        assert "First:" in block
    assert "filter" not in blocks[-1]


def test_every_block_has_a_box_for_every_number_and_every_answer() -> None:
    for block in _blocks(field_sheet(full_week())):
        for _, word, _ in BOXES:
            assert word in block
        for word in ("Date, time", "By", "confirmed", "dismissed", "the water itself", "only cleaned"):
            assert word in block
        assert len(re.findall('class="box"', block)) == 7


def test_boxes_are_columns_of_the_file_that_the_numbers_go_into() -> None:
    names = [name for name, _, _ in BOXES]
    # In the order in which they are written down, so that a line is typed from left to right.
    assert [name for name in COLUMNS["field-sheet.csv"] if name in names] == names


def test_numbers_carry_their_unit() -> None:
    first = _blocks(field_sheet(full_week()))[0]
    assert "As found, mg/L" in first
    assert "-0.21" in first.replace("\N{MINUS SIGN}", "-")


def test_a_week_without_doubts_still_has_a_block_to_fill_in() -> None:
    assert len(_blocks(field_sheet(empty_week()))) == 1
    assert MOST_BLOCKS >= 10


def test_nothing_typed_into_the_config_is_markup() -> None:
    page = field_sheet(nasty_week())
    assert "<script>alert" not in page
    assert NASTY_TAG not in page
    assert "AIT-&lt;131&gt;" in page
