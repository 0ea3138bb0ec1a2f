"""Install: makes sure that there is a browser for the tests; does nothing where there is one.

First playwright's own, which needs neither rights nor a package manager but must be downloaded from its
makers; where they cannot be reached, the one in Debian's packages, which takes the rights to install it.
"""

import os
import subprocess
import sys
from shutil import which

from tests.browser.browser import ADVICE, find

PLAYWRIGHT = ((sys.executable, "-m", "playwright", "install", "chromium"),)
APT = (
    ("apt-get", "update", "--quiet"),
    (
        *("env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "install", "--quiet", "--yes"),
        *("--no-install-recommends", "chromium"),
    ),
)


def main() -> int:
    """Return 0 once there is a browser, 1 where none could be had."""
    if is_there():
        return 0
    for commands in ways():
        print("No Chromium yet:", " ".join(commands[-1]), flush=True)
        if all(_done(command) for command in commands) and is_there():
            return 0
    print(ADVICE, file=sys.stderr)
    return 1


def is_there() -> bool:
    """Whether there is a browser."""
    try:
        find()
    except RuntimeError:
        return False
    return True


def ways() -> list[tuple[tuple[str, ...], ...]]:
    """Return the ways to install one on this machine, each a row of commands, in the order of trial."""
    if which("apt-get") is None:
        return [PLAYWRIGHT]
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    if not is_root and which("sudo") is None:
        return [PLAYWRIGHT]
    # Never wait for somebody to type a password.
    first = () if is_root else ("sudo", "--non-interactive")
    return [PLAYWRIGHT, tuple((*first, *command) for command in APT)]


def _done(command: tuple[str, ...]) -> bool:
    return subprocess.run(command, check=False, stdin=subprocess.DEVNULL).returncode == 0


if __name__ == "__main__":
    sys.exit(main())
