"""Browser: the Chromium that opens our pages in the tests, wherever it is installed."""

import os
from pathlib import Path
from shutil import which

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
ADVICE = (
    "no Chromium was found; install one (Debian: apt-get install chromium), run "
    "`python -m tests.browser.install`, or name one in the environment variable STILLWELL_BROWSER"
)


def find() -> str:
    """Return the path of a Chromium: the one named, one on the path, or playwright's own.

    Raises
    ------
    RuntimeError
        There is none; the text says what to do.
    """
    named = os.environ.get("STILLWELL_BROWSER", "")
    for name in (named, *NAMES):
        path = which(name) if name else None
        if path:
            return path
    own = _of_playwright()
    if own.is_file():
        return str(own)
    raise RuntimeError(ADVICE)


def _of_playwright() -> Path:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        return Path(playwright.chromium.executable_path)
