"""Dossier in a browser: it draws, zooms all its charts together, fits a phone and prints."""

from pathlib import Path

import pytest

from pipeline.clock import week_named
from pipeline.investigate import happened, look_into
from pipeline.report.dossier import dossier
from tests.browser.conftest import Opened
from tests.browser.test_pages import DRAWN, sheets
from tests.upsets import scenes

pytestmark = [pytest.mark.browser, pytest.mark.filterwarnings("default::ResourceWarning")]

MOST_SHEETS = 8
RANGES = (
    "[...document.querySelectorAll('figure[data-linked] .live')].filter(p => p.layout)"
    ".map(p => p.layout.xaxis.range.map(t => String(t).replace(' ', 'T').slice(0, 16)).join(' '))"
)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    scene = scenes.staged(scenes.main_break)
    (upset,) = happened(scene, week_named(scenes.WEEK, scene.plant.zone))
    file = tmp_path_factory.mktemp("upsets") / "main-break.html"
    file.write_text(dossier("Harrow Fork", look_into(scene, upset, ()), "../weekly.html"), encoding="utf-8")
    return file


def test_it_draws_without_a_complaint_and_asks_for_nothing(path: Path, opened: Opened) -> None:
    page = opened.go(path)
    charts = page.locator("figure.chart").count()
    opened.read_to_the_end()
    page.wait_for_function(f"{DRAWN} === {charts}")
    assert opened.complaints == []
    assert opened.requests == [path.as_uri()]


def test_what_one_chart_is_zoomed_to_the_others_follow(path: Path, opened: Opened) -> None:
    page = opened.go(path)
    opened.read_to_the_end()
    page.wait_for_function(f"{DRAWN} === {page.locator('figure.chart').count()}")
    whole = page.evaluate(RANGES)
    assert len(whole) >= 4 and len(set(whole)) == 1
    first = page.locator("figure[data-linked] .live .nsewdrag").first
    first.scroll_into_view_if_needed()
    box = first.bounding_box()
    assert box
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + box["width"] * 0.3, y)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.6, y, steps=8)
    page.mouse.up()
    page.wait_for_function(f"new Set({RANGES}).size === 1 && {RANGES}[0] !== '{whole[0]}'")
    page.wait_for_timeout(400)
    first.dblclick()
    page.wait_for_function(f"new Set({RANGES}).size === 1 && {RANGES}[0] === '{whole[0]}'")
    assert opened.complaints == []


@pytest.mark.parametrize("opened", [380], indirect=True)
def test_it_never_scrolls_sideways_on_a_phone(path: Path, opened: Opened) -> None:
    page = opened.go(path)
    opened.read_to_the_end()
    page.wait_for_timeout(300)
    assert page.evaluate("document.scrollingElement.scrollWidth") <= 380


def test_it_prints(path: Path, opened: Opened) -> None:
    page = opened.go(path)
    for paper in ("A4", "Letter"):
        assert 1 <= sheets(page.pdf(format=paper)) <= MOST_SHEETS
