"""The field sheet in a browser: black on white, boxes a pen fits into, ten instruments on two pages."""

from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.report.write import write_report
from tests.browser.conftest import Opened
from tests.browser.test_pages import sheets
from tests.report.weeks import full_week

pytestmark = [pytest.mark.browser, pytest.mark.filterwarnings("default::ResourceWarning")]

WIDE_MM, HIGH_MM = 22.0, 9.0
"""Room for a number such as 12.345 written by hand, common practice, no source."""
MM = 96 / 25.4


@pytest.fixture(scope="module")
def ten(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the sheet of a week with ten instruments on its list."""
    week = full_week()
    entries = [replace(week.entries[k % 4], rank=k + 1) for k in range(10)]
    folder = tmp_path_factory.mktemp("ten") / "week"
    write_report(replace(week, entries=tuple(entries)), folder, {})
    return folder / "field-sheet.html"


@pytest.mark.parametrize("week", ["full_week", "quiet_week", "empty_week", "nasty_week"])
@pytest.mark.parametrize("opened", [1280, 390], indirect=True)
def test_no_complaint_no_request_and_no_scrolling_sideways(reports: Path, opened: Opened, week: str) -> None:
    path = reports / week / "field-sheet.html"
    opened.go(path)
    opened.page.wait_for_timeout(100)
    assert opened.complaints == []
    assert opened.requests == [path.as_uri()]
    width = opened.page.viewport_size
    assert width is not None
    assert opened.page.evaluate("document.scrollingElement.scrollWidth") <= width["width"]


def test_ten_instruments_print_on_two_pages(ten: Path, opened: Opened) -> None:
    page = opened.go(ten)
    assert page.locator(".visit").count() == 10
    for paper in ("A4", "Letter"):
        assert sheets(page.pdf(format=paper, prefer_css_page_size=True)) <= 2


def test_boxes_have_room_for_a_pen_on_paper(ten: Path, opened: Opened) -> None:
    page = opened.go(ten)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": round((279.4 - 20) * MM), "height": 800})  # Letter, landscape
    for name in ("as_found", "reference", "cleaned", "reference_after", "as_left"):
        box = page.locator(f".cell.{name}").first.bounding_box()
        assert box is not None
        assert box["width"] >= WIDE_MM * MM
        words = page.locator(f".cell.{name} > :last-child").first.bounding_box()
        assert words is not None
        assert box["y"] + box["height"] - words["y"] - words["height"] >= HIGH_MM * MM


def test_it_is_black_on_white(ten: Path, opened: Opened) -> None:
    page = opened.go(ten)
    page.emulate_media(media="print")
    inked = "[...document.querySelectorAll('body, .cell, .cell b, h1, h2, .first')]"
    colours = page.evaluate(f"{inked}.map(e => getComputedStyle(e).color)")
    assert set(colours) == {"rgb(0, 0, 0)"}
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
