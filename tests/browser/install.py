"""Install: makes sure that there is a browser for the tests; does nothing where there is one."""

import subprocess
import sys

from tests.browser.browser import find


def main() -> int:
    try:
        find()
    except RuntimeError:
        return subprocess.call([sys.executable, "-m", "playwright", "install", "chromium"])
    return 0


if __name__ == "__main__":
    sys.exit(main())
