"""Detection: how much of what is wrong is found, how soon, how rightly, and how often nothing was wrong.

``python -m benchmarks.detection`` (quick, some four minutes on two cores) simulates sensors of the
held-out family B, healthy and faulty, puts them through every check and scores what the weekly lists
would have said.
``--family A`` is the family detectors are tuned on, ``--family C``, ``--family D`` and ``--family E`` are
three by people who had not seen them; ``--full`` simulates four times as many sensors;
``--broken halved`` or ``--broken dropnan`` spoils the detectors on purpose and must look worse.
Only the figures of sound detectors on family B are recorded.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

from argparse import ArgumentParser
from collections.abc import Sequence
from itertools import chain
from multiprocessing import get_context

from benchmarks.detection_broken import WAYS
from benchmarks.detection_cost import cost
from benchmarks.detection_counts import Row
from benchmarks.detection_job import agreement
from benchmarks.detection_list import by_fault
from benchmarks.detection_plan import tasks
from benchmarks.detection_rows import rows
from benchmarks.detection_work import records
from benchmarks.results import Figure, today
from benchmarks.results import record as publish
from benchmarks.scoring import Record

PROCESSES = 2
COMMAND = "python -m benchmarks.detection"


def measured(family: str, full: bool, broken: str = "", only: str = "") -> list[Record]:
    """Simulate and judge all sensors of a measurement, in the plan's order."""
    with get_context("spawn").Pool(PROCESSES) as pool:
        return list(chain.from_iterable(pool.imap(records, tasks(family, full, broken, only))))


def table(found: Sequence[Row]) -> str:
    """Return the rows as plain text."""
    lines = [f"{'id':36} {'figure':>8} {'unit':10} {'target':>7} {'floor':>6} {'n':>5}  what"]
    for row in found:
        cells = [_text(row.figure), row.unit, _text(row.target), _text(row.floor), str(row.n)]
        line = (
            f"{row.id:36} {cells[0]:>8} {cells[1]:10} {cells[2]:>7} {cells[3]:>6} {cells[4]:>5}  {row.what}"
        )
        lines.append(f"{line} ({row.detail})" if row.detail else line)
    return "\n".join(lines)


def _text(value: float | None) -> str:
    return "-" if value is None else f"{value:g}"


def figures(found: Sequence[Row], full: bool) -> list[Figure]:
    """Return rows as they are published."""
    command = f"{COMMAND} --full" if full else COMMAND
    return [
        Figure(r.id, r.what, r.figure, r.unit, r.better, r.target, r.floor, r.n, command, today())
        for r in found
    ]


def main() -> None:
    """Measure, print and record."""
    parser = ArgumentParser(prog=COMMAND)
    parser.add_argument("--family", choices=["A", "B", "C", "D", "E"], default="B")
    parser.add_argument("--full", action="store_true", help="four times as many sensors")
    parser.add_argument("--broken", choices=WAYS, default="", help="spoil the detectors on purpose")
    parser.add_argument("--long", action="store_true", help="also by fault, measure and reference")
    given = parser.parse_args()
    every = measured(given.family, given.full, given.broken)
    found = rows(every)
    if not given.broken:
        found += [*cost(given.family), agreement(given.family, weeks=26 if given.full else 3)]
    print(table(found))
    if given.long:
        print("\n".join(by_fault(every)))
    if given.family == "B" and not given.broken:
        publish(figures(found, given.full))


if __name__ == "__main__":
    main()
