"""Pages: self-contained, escaped, accessible, and complete in what they say."""

import re
from collections.abc import Callable
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from pipeline.parts import parts
from pipeline.report import sections
from pipeline.report.field_sheet import field_sheet
from pipeline.report.page import calibration_page, weekly_page
from pipeline.report.render import text_of
from pipeline.report.words import anchor
from pipeline.week import Week
from tests.report.weeks import NASTY, NASTY_TAG, busy_week, empty_week, full_week, nasty_week, quiet_week

LARGEST_BYTES = 3_500_000
"""A page must pass common mail servers, whose cap on a whole message is often 10 MB; base64 adds a third.
Common practice, no source."""


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    weeks: dict[str, Callable[[], Week]] = {
        "full": full_week,
        "quiet": quiet_week,
        "empty": empty_week,
        "nasty": nasty_week,
        "busy": busy_week,
    }
    made = {}
    for name, make in weeks.items():
        week = make()
        made[f"{name} weekly"] = weekly_page(week)
        made[f"{name} calibration"] = calibration_page(week)
        made[f"{name} sheet"] = field_sheet(week)
    return made


class Reader(HTMLParser):
    """What a page holds: elements with attributes, text outside scripts and styles."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_data(self, data: str) -> None:
        if self.elements and self.elements[-1][0] not in ("script", "style"):
            self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.elements if name == tag]

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", "".join(self.words))


def test_pages_ask_for_nothing_outside_themselves(pages: dict[str, str]) -> None:
    for page in pages.values():
        read = Reader(page)
        for _, attributes in read.elements:
            for name in ("src", "srcset", "data", "poster", "action", "xlink:href"):
                assert name not in attributes
            target = attributes.get("href", "#top")
            assert re.fullmatch(r"#\S+|[a-z-]+\.(html|csv)|\.\./index\.html", target), target
        style = page[page.index("<style>") : page.index("</style>")]
        assert "url(" not in style
        assert "@import" not in style
        assert not read.all("link")


def test_the_browser_is_told_to_load_nothing(pages: dict[str, str]) -> None:
    for page in pages.values():
        policy = next(meta for meta in Reader(page).all("meta") if "http-equiv" in meta)["content"]
        assert policy.startswith("default-src 'none';")
        assert "http" not in policy


def test_pages_can_be_mailed(pages: dict[str, str]) -> None:
    for page in pages.values():
        assert len(page.encode()) < LARGEST_BYTES
    assert pages["full weekly"].count('id="plotly-packed"') == 1
    assert "plotly-packed" not in pages["quiet weekly"]


def test_every_finding_excursion_and_limit_is_on_the_page(pages: dict[str, str]) -> None:
    for name, week in (("full", full_week()), ("nasty", nasty_week()), ("busy", busy_week())):
        read = Reader(pages[f"{name} weekly"])
        ids = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
        for finding in week.findings:
            assert finding.finding_id in read.text
            assert ids.count(anchor(f"finding-{finding.finding_id}")) == 1
        for excursion in week.excursions:
            assert excursion.excursion_id in read.text
            assert anchor(f"excursion-{excursion.excursion_id}") in ids
        for result in week.limits:
            assert anchor(f"limit-{result.limit.limit_id}") in ids


def test_ids_are_unique_and_links_lead_somewhere(pages: dict[str, str]) -> None:
    for page in pages.values():
        read = Reader(page)
        ids = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
        assert len(ids) == len(set(ids))
        for link in read.all("a"):
            if link["href"].startswith("#"):
                assert link["href"][1:] in ids


def test_nasty_texts_are_shown_and_not_run(pages: dict[str, str]) -> None:
    weekly, plain = Reader(pages["nasty weekly"]), Reader(pages["full weekly"])
    assert NASTY in weekly.text
    assert NASTY_TAG in weekly.text
    figures = len(weekly.all("figure"))
    assert len(weekly.all("script")) == figures + 2
    assert len(plain.all("script")) == len(plain.all("figure")) + 2
    assert all(set(script) <= {"type", "class", "id"} for script in weekly.all("script"))
    assert "<!--" not in pages["nasty weekly"]
    assert NASTY in Reader(pages["nasty calibration"]).text


def test_headings_are_in_order(pages: dict[str, str]) -> None:
    for page in pages.values():
        levels = [int(name[1]) for name, _ in Reader(page).elements if re.fullmatch(r"h[1-6]", name)]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(after <= before + 1 for before, after in pairwise(levels))


def test_tables_have_captions_and_scopes(pages: dict[str, str]) -> None:
    for page in pages.values():
        read = Reader(page)
        assert len(read.all("caption")) == len(read.all("table"))
        assert all("scope" in head for head in read.all("th"))
        assert read.all("html")[0]["lang"] == "en"


def test_charts_say_their_message_in_words(pages: dict[str, str]) -> None:
    images = [part for part in Reader(pages["full weekly"]).all("div") if part.get("role") == "img"]
    assert len(images) == len(Reader(pages["full weekly"]).all("figure")) > 0
    assert all(len(image["aria-label"]) > 40 for image in images)


def test_every_chart_has_a_drawing_without_script(pages: dict[str, str]) -> None:
    read = Reader(pages["full weekly"])
    assert len(read.all("svg")) == len(read.all("figure"))


def test_the_words_keep_to_what_a_screening_aid_may_say(pages: dict[str, str]) -> None:
    for name, page in pages.items():
        text = Reader(page).text.lower()
        assert "violation" not in text
        assert "compliant" not in text
        assert not re.search(r"\b(dose|setpoint|set point)\b", text), name
    assert "Possible exceedance, for review: already reported?" in Reader(pages["full weekly"]).text


def test_cautions_are_on_every_weekly_page(pages: dict[str, str]) -> None:
    for name in ("full", "quiet", "empty", "nasty"):
        text = Reader(pages[f"{name} weekly"]).text
        for point in (
            "already reported?",
            "suspicion",
            "Statistics are not limits",
            "Confined space",
            "permit",
        ):
            assert point in text


def test_of_many_episodes_the_longest_are_drawn_and_all_are_listed(pages: dict[str, str]) -> None:
    read = Reader(pages["busy weekly"])
    drawn = {part["id"].removeprefix("excursion-") for part in read.all("article")}
    minutes = {anchor(e.excursion_id): e.minutes for e in busy_week().excursions}
    left = minutes.keys() - drawn
    assert len(read.all("figure")) == len(drawn) == 10
    assert len(left) == 4
    assert max(minutes[name] for name in left) < min(minutes[name] for name in drawn)


def test_empty_states_read_as_sentences(pages: dict[str, str]) -> None:
    quiet = Reader(pages["quiet weekly"]).text
    assert "No limit was exceeded in what could be assessed." in quiet
    assert "No instrument is in doubt on what was recorded. That is no proof" in quiet
    empty = Reader(pages["empty weekly"]).text
    assert "No limit could be assessed, so nothing can be said of excursions." in empty
    assert "No delivery holds readings of this period." in empty


def test_not_assessable_is_never_told_as_none_outside(pages: dict[str, str]) -> None:
    rows = re.findall(r'<tr id="limit-.*?</tr>', pages["empty weekly"], re.S)
    assert len(rows) == 9
    assert all("not known" in row and "Not assessable" in row and ">none<" not in row for row in rows)


def test_sections_on_disk_are_sections_on_the_page(pages: dict[str, str]) -> None:
    files = {path.stem for path in Path(sections.__path__[0]).glob("*.py")} - {"__init__"}
    assert set(parts(sections)) == files
    shown = [part["id"] for part in Reader(pages["full weekly"]).all("section")]
    assert set(shown) == files
    assert len(shown) == len(files)


def test_sections_have_a_title_and_a_place_of_their_own() -> None:
    orders = [part.ORDER for part in parts(sections).values()]
    assert len(set(orders)) == len(orders)
    assert all(part.TITLE and part.__doc__ for part in parts(sections).values())


def test_the_same_week_gives_the_same_bytes() -> None:
    assert weekly_page(full_week()) == weekly_page(full_week())
    assert calibration_page(full_week()) == calibration_page(full_week())


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.1, "relative luminance" definition."""
    shares = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("ink", ["ink", "soft", "accent", "outside", "unknown", "near", "within"])
@pytest.mark.parametrize("ground", ["paper", "white", "shade", "band"])
def test_every_ink_can_be_read(ink: str, ground: str) -> None:
    colours = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6});", text_of("page.css"))) | {"white": "#ffffff"}
    light, dark = luminance(colours[ground]), luminance(colours[ink])
    # WCAG 2.1, success criterion 1.4.3 (AA): at least 4.5 to 1 for body text.
    assert (light + 0.05) / (dark + 0.05) >= 4.5
