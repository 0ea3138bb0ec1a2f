"""What the browser tests share: one browser, and a folder of reports."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from pipeline.report.index import write_index
from pipeline.report.write import write_report
from tests.browser.browser import ARGUMENTS, find
from tests.report.weeks import empty_week, full_week, nasty_week, quiet_week


@pytest.fixture(scope="session")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with one report of every sort, and an index."""
    folder = tmp_path_factory.mktemp("reports")
    for make in (full_week, quiet_week, empty_week, nasty_week):
        write_report(make(), folder / make.__name__, {})
    write_index(folder, "Harrow Fork")
    return folder


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    try:
        path = find()
    except RuntimeError as error:
        pytest.fail(str(error), pytrace=False)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield opened
        opened.close()


@dataclass
class Opened:
    """A page, and everything it complained of or asked for."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def go(self, path: Path) -> Page:
        self.page.on("console", lambda message: self.complaints.append(f"{message.type}: {message.text}"))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.goto(path.as_uri())
        return self.page

    def read_to_the_end(self) -> None:
        """Scroll down as a reader does."""
        height = self.page.evaluate("document.scrollingElement.scrollHeight")
        for top in range(0, height, 600):
            self.page.evaluate(f"scrollTo(0, {top})")
            self.page.wait_for_timeout(60)


@pytest.fixture
def opened(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Opened]:
    """Return a page of the width given as parameter, desktop by default."""
    width = getattr(request, "param", 1280)
    page = browser.new_page(viewport={"width": width, "height": 800})
    yield Opened(page)
    page.close()
