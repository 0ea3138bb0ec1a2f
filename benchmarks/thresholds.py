"""Thresholds: every bar of the detectors, derived from a budget of false alarms on family A and written down.

A group of bars is a file ``thresholds_<group>.py`` with ``derived() -> dict`` of lines made by
`benchmarks.thresholds_line.noted`; it is found, there is no list to edit. ``python -m benchmarks.thresholds``
simulates healthy and faulty sensors of family A, which detectors may be tuned on, prints old and new values
and writes ``pipeline/evidence/thresholds.json``; ``--only drift`` derives one group and leaves the other
lines as they are; ``--dry`` prints only.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import json
from argparse import ArgumentParser
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
FILE = HERE.parent / "pipeline" / "evidence" / "thresholds.json"

Lines = dict[str, dict[str, Any]]


def groups() -> dict[str, Callable[[], Lines]]:
    """Return what derives each group, by its name."""
    names = sorted(path.stem for path in HERE.glob("thresholds_*.py"))
    modules = {name.removeprefix("thresholds_"): import_module(f"benchmarks.{name}") for name in names}
    return {group: module.derived for group, module in modules.items() if hasattr(module, "derived")}


def merged(before: Lines, found: Lines) -> Lines:
    """Put new lines in place of the old ones of the same name, new names last."""
    return {**before, **found}


def main() -> None:
    """Derive, print beside what holds now, write."""
    parser = ArgumentParser(prog="python -m benchmarks.thresholds")
    parser.add_argument("--dry", action="store_true", help="print only")
    parser.add_argument(
        "--only", choices=sorted(groups()), action="append", help="one group; may be repeated"
    )
    given = parser.parse_args()
    for group in given.only or sorted(groups()):
        found = groups()[group]()
        before = json.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {}
        for name, line in found.items():
            print(_told(name, before.get(name, {}), line), flush=True)
        if not given.dry:
            FILE.write_text(json.dumps(merged(before, found), indent=1) + "\n", encoding="utf-8")


def _told(name: str, before: dict[str, Any], line: dict[str, Any]) -> str:
    return (
        f"{name}: {before.get('value')} -> {line['value']}, derived {line['derived']} "
        f"({line['what']}, n={line['n']})"
    )


if __name__ == "__main__":
    main()
