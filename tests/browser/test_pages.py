"""Pages in a browser: they draw, fit a phone, print, and ask the network for nothing."""

import re
from pathlib import Path

import pytest

from tests.browser.conftest import Opened

pytestmark = [pytest.mark.browser, pytest.mark.filterwarnings("default::ResourceWarning")]

PAGES = [
    f"{week}/{name}.html"
    for week in ("full_week", "quiet_week", "empty_week", "nasty_week")
    for name in ("weekly", "calibration-list")
] + ["index.html"]
MOST_SHEETS = 14
DRAWN = (
    "[...document.querySelectorAll('figure.chart')].filter(f => f.querySelector('.live .main-svg')).length"
)


def sheets(pdf: bytes) -> int:
    """Count the pages of a PDF by its page objects (ISO 32000-1, 7.7.3.3)."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


@pytest.mark.parametrize("path", PAGES)
def test_no_complaint_and_no_request_but_the_page_itself(reports: Path, opened: Opened, path: str) -> None:
    opened.go(reports / path)
    opened.read_to_the_end()
    opened.page.wait_for_timeout(300)
    assert opened.complaints == []
    assert opened.requests == [(reports / path).as_uri()]


@pytest.mark.parametrize("opened", [380], indirect=True)
@pytest.mark.parametrize("path", PAGES)
def test_the_page_never_scrolls_sideways_on_a_phone(reports: Path, opened: Opened, path: str) -> None:
    opened.go(reports / path)
    opened.read_to_the_end()
    opened.page.wait_for_timeout(300)
    assert opened.page.evaluate("document.scrollingElement.scrollWidth") <= 380


def test_charts_are_drawn_when_they_come_near_and_not_before(reports: Path, opened: Opened) -> None:
    page = opened.go(reports / "full_week" / "weekly.html")
    charts = page.evaluate("document.querySelectorAll('figure.chart').length")
    page.wait_for_function("window.Plotly")
    assert page.evaluate(DRAWN) < charts
    opened.read_to_the_end()
    page.wait_for_function(f"{DRAWN} === {charts}")
    assert page.locator(".still:visible").count() == 0
    assert opened.complaints == []


def test_before_a_chart_is_drawn_its_plain_drawing_shows(reports: Path, opened: Opened) -> None:
    page = opened.go(reports / "full_week" / "weekly.html")
    last = page.locator("figure.chart").last
    assert last.locator(".still svg").is_visible()
    assert not last.locator(".live").is_visible()


def test_without_a_decompressor_the_plain_drawings_stay(reports: Path, opened: Opened) -> None:
    opened.page.add_init_script("delete window.DecompressionStream")
    page = opened.go(reports / "full_week" / "weekly.html")
    opened.read_to_the_end()
    page.wait_for_selector("body.plain")
    charts = page.locator("figure.chart").count()
    assert page.locator(".still svg:visible").count() == charts
    assert page.locator(".plain-note:visible").count() == 1
    assert opened.complaints == []


@pytest.mark.parametrize("path", PAGES)
def test_the_page_prints(reports: Path, opened: Opened, path: str) -> None:
    page = opened.go(reports / path)
    for paper in ("A4", "Letter"):
        assert 1 <= sheets(page.pdf(format=paper)) <= MOST_SHEETS


def test_every_chart_is_drawn_for_print_and_fits_the_sheet(reports: Path, opened: Opened) -> None:
    page = opened.go(reports / "full_week" / "weekly.html")
    charts = page.locator("figure.chart").count()
    page.wait_for_function("window.Plotly")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate(DRAWN) == charts
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 688, "height": 1000})  # A4 less its margins at 96 dots an inch
    assert page.evaluate("document.scrollingElement.scrollWidth") <= 688
    assert page.evaluate("[...document.querySelectorAll('.live')].every(p => p.scrollWidth <= p.clientWidth)")
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1280, "height": 800})
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    opened.read_to_the_end()
    page.wait_for_function("document.querySelector('.live .main-svg')?.clientWidth > 500")
    assert opened.complaints == []


def test_links_of_the_index_open_the_reports(reports: Path, opened: Opened) -> None:
    page = opened.go(reports / "index.html")
    page.locator("a[href='full_week/weekly.html']").first.click()
    page.wait_for_selector("h1")
    assert "Harrow Fork" in page.title()


def test_nothing_that_was_typed_into_the_config_runs(reports: Path, opened: Opened) -> None:
    page = opened.go(reports / "nasty_week" / "weekly.html")
    page.on("dialog", lambda dialog: opened.complaints.append(dialog.message))
    opened.read_to_the_end()
    assert opened.complaints == []
    assert page.evaluate("document.querySelectorAll('main script:not(.figure)').length") == 0
