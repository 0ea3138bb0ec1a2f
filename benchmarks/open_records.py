"""Open records: the checks against what people wrote beside real readings.

``python -m benchmarks.open_records nerr FOLDER`` reads probe records of the National Estuarine Research
Reserve System (NOAA; public information, no warranty) through the product's own ingest and scores what its
checks say by the technicians' codes. ``python -m benchmarks.open_records gecco FILE`` scores the events of a
drinking-water record. Both with a config as a plant would write it, kept in `benchmarks/open`; the records
themselves are not part of the project. ``--only TEXT`` takes records with that in their name; ``--long``
prints each; ``--missed`` prints what was missed of probes, one by one; ``--dry`` records nothing.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path

from benchmarks.detection import table
from benchmarks.detection_counts import Row
from benchmarks.open_records_missed import missed_lines
from benchmarks.open_records_outlet import lines as outlet_lines
from benchmarks.open_records_outlet import outlet
from benchmarks.open_records_outlet import rows as outlet_rows
from benchmarks.open_records_probe import by_station, stations
from benchmarks.open_records_probe import rows as probe_rows
from benchmarks.results import Figure, record, today

COMMAND = "python -m benchmarks.open_records"


def figures(found: Sequence[Row], command: str) -> list[Figure]:
    """Return rows as they are published."""
    return [
        Figure(r.id, r.what, r.figure, r.unit, r.better, r.target, r.floor, r.n, command, today())
        for r in found
    ]


def main() -> None:
    """Measure, print and record."""
    parser = ArgumentParser(prog=COMMAND)
    parser.add_argument("which", choices=["nerr", "gecco"])
    parser.add_argument("path", type=Path, metavar="FOLDER or FILE")
    parser.add_argument("--only", default="", help="records with this in their name; nothing is recorded")
    parser.add_argument("--long", action="store_true", help="each record, or each alarm")
    parser.add_argument("--missed", action="store_true", help="each stretch of a probe that was missed")
    parser.add_argument("--dry", action="store_true", help="record nothing")
    given = parser.parse_args()
    if given.which == "nerr":
        found = stations(given.path, given.only)
        said, more, argument = probe_rows(found), by_station(found), "FOLDER"
        lost = missed_lines(found)
    else:
        held = outlet(given.path)
        said, more, argument, lost = outlet_rows(held), outlet_lines(held), "FILE", []
    print(table(said))
    if given.long:
        print("\n".join(more))
    if given.missed:
        print("\n".join(lost))
    if not given.dry and not given.only:
        record(figures(said, f"{COMMAND} {given.which} {argument}"))


if __name__ == "__main__":
    main()
