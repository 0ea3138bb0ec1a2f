"""Fuzz: damaged exports by the thousand, none of which may crash, hang or lose a line.

``python -m benchmarks.fuzz_ingest`` (a few minutes) damages the files of the tests' corpus in ways that
disks, networks, spreadsheets and people do, reads each, and takes the lot into an archive. Every file must
be read or refused in a sentence; every line below the header must come out as readings, as a refused row,
or be a header again or blank; and the ledger must balance: read = stored + known + superseded + refused.
"""

import argparse
import random
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from os import utime
from pathlib import Path

from benchmarks.results import Figure, record, today
from pipeline.config.load import Plant, load
from pipeline.errors import RefusedError
from pipeline.ingest.export import read_export
from pipeline.ingest.head import BLANK, split
from pipeline.ingest.identify import identify
from pipeline.ingest.opener import opened
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import COUNT_NAMES
from pipeline.intake import take_in

REPOSITORY = Path(__file__).resolve().parents[1]
CORPUS = REPOSITORY / "tests" / "ingest" / "corpus"
COMMAND = "python -m benchmarks.fuzz_ingest"
FILES = 20_000
BATCH = 250
READ_AT = datetime(2027, 1, 1, tzinfo=UTC)

PLANT_TOML = """\
name = "Fuzzed plant"
time_zone = "America/Denver"
[exports]
trends = "trends"
[[area]]
id = "a"
name = "Area"
plant = "water"
[reading]
date_order = "month_first"
"""
TAGS_CSV = """\
tag,area,measures,unit,export_unit,states,sentinels
AIT-1,a,turbidity,NTU,,,-99|9999
AIT-2,a,chlorine,mg/L,,,
FIT-3,a,flow,MGD,,,
YS-1,a,state,1,,0=Off|1=On,
"""
PIECES = [
    *(b"\n", b"\r\n", b"\r", b",", b";", b"\t", b"|", b'"', b'""', b"'", b"\x00", b"\x1a", b"\xef\xbb\xbf"),
    *(
        b"\xff\xfe",
        b"\xff",
        b"\xb5",
        b"\xe2\x80\xa8",
        b"24:00",
        b"1e999",
        b"NaN",
        b"<",
        b"-99",
        b"1,234",
        b"0x",
    ),
    *(
        b"Time",
        b"Tag",
        b"Value",
        b"Quality",
        b"Unit",
        b"(mg/L)",
        b"AIT-2",
        b"2026-11-01 01:30",
        b"13/13/2026",
    ),
    *(
        b"99999999999999",
        b"46027.5",
        b"12:00 AM",
        b"Average",
        b"=1+1",
        b"PK\x03\x04",
        b"\x1f\x8b",
        b"Z",
        b"+07:00",
    ),
]


def corpus() -> dict[str, bytes]:
    """Return the files that damage is done to, by name."""
    return {path.name: path.read_bytes() for path in sorted(CORPUS.iterdir()) if path.is_file()}


def damaged(files: dict[str, bytes], chance: random.Random) -> tuple[str, bytes]:
    """Return one file of the corpus, damaged in one to three ways."""
    name = chance.choice(list(files))
    data = files[name]
    for _ in range(chance.randint(1, 3)):
        data = chance.choice(_DAMAGES)(data, files, chance)
    return name, data[:20_000]


def _insert(data: bytes, _: dict[str, bytes], chance: random.Random) -> bytes:
    place = chance.randint(0, len(data))
    return data[:place] + chance.choice(PIECES) + data[place + chance.randint(0, 6) :]


def _flip(data: bytes, _: dict[str, bytes], chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.randint(1, 3)):
        if changed:
            changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def _cut(data: bytes, _: dict[str, bytes], chance: random.Random) -> bytes:
    first, last = sorted(chance.randint(0, len(data)) for _ in range(2))
    return data[first:last] if chance.random() < 0.3 else data[:last]


def _splice(data: bytes, files: dict[str, bytes], chance: random.Random) -> bytes:
    other = files[chance.choice(list(files))]
    return data[: chance.randint(0, len(data))] + other[chance.randint(0, len(other)) :]


def _lines(data: bytes, _: dict[str, bytes], chance: random.Random) -> bytes:
    lines = data.split(b"\n")
    chance.shuffle(lines) if chance.random() < 0.3 else lines.insert(
        chance.randint(0, len(lines)), chance.choice(lines)
    )
    return b"\n".join(lines)


def _replace(data: bytes, _: dict[str, bytes], chance: random.Random) -> bytes:
    return data.replace(chance.choice([b",", b"\n", b"-", b":", b".", b" ", b"0"]), chance.choice(PIECES), 30)


def _recode(data: bytes, _: dict[str, bytes], chance: random.Random) -> bytes:
    return data.decode("latin-1").encode(chance.choice(["utf-16", "utf-16-be", "utf-8-sig", "utf-32"]))


def _repeat(data: bytes, _: dict[str, bytes], chance: random.Random) -> bytes:
    return data * chance.randint(2, 5)


_DAMAGES = (*[_insert] * 5, *[_flip] * 3, *[_lines] * 3, _cut, _cut, _splice, _replace, _recode, _repeat)


def lost_lines(data: bytes, name: str, plant: Plant) -> list[int]:
    """Return the lines below the header that came out neither as readings nor as refused rows.

    Raises
    ------
    RefusedError
        The file is refused as a whole.
    """
    _, module, sheet = identify(data, name, plant.file.reading.encoding)
    raw, refused = module.read(sheet)
    export = read_export(data, name, "0" * 12, plant, READ_AT)
    if raw.height + refused.height != export.read:
        return [0]
    seen = {*raw["line"], *refused["line"]}
    return [number for number in _lines_with_something(sheet) if number not in seen]


def _lines_with_something(sheet: Sheet) -> Iterator[int]:
    head = sheet.head
    for number, line in enumerate(sheet.data.decode().split("\n"), 1):
        if number <= head.header_line or not line.strip(BLANK + head.delimiter):
            continue
        cells = tuple(cell.strip() for cell in split(line.strip("\r\ufeff"), head.delimiter))
        counts = [place for place in range(head.when_columns[0]) if head.names[place] in COUNT_NAMES]
        times = (*head.when_columns, *head.zone_columns, *counts)
        others = [cell for place, cell in enumerate(cells) if place not in times]
        when = cells[head.when_columns[0]] if head.when_columns[0] < len(cells) else ""
        only_a_time = not any(others) and when[:1].isdigit()
        if cells not in head.rows and any(cells) and not only_a_time:
            yield number


@dataclass
class Tally:
    """What came of the files."""

    files: int = 0
    members: int = 0
    refused: int = 0
    lost: int = 0
    unbalanced: int = 0
    slowest_s: float = 0.0
    crashes: Counter[str] = field(default_factory=Counter)

    def read(self, name: str, data: bytes, plant: Plant) -> None:
        """Read one file and count what came of it."""
        self.files += 1
        start = time.perf_counter()
        try:
            self._read(name, data, plant)
        except RefusedError as error:
            self.refused += 1
            assert error.fault.problem and error.fault.remedy
        except Exception as error:
            place = traceback.extract_tb(error.__traceback__)[-1]
            self.crashes[f"{type(error).__name__}: {error} ({Path(place.filename).name}:{place.lineno})"] += 1
        self.slowest_s = max(self.slowest_s, time.perf_counter() - start)

    def _read(self, name: str, data: bytes, plant: Plant) -> None:
        for member in opened(data, name):
            self.members += 1
            if member.fault is None:
                self.lost += len(lost_lines(member.data, member.name, plant))

    def balance(self, plant: Plant) -> None:
        """Take every file of the plant in, and hold its ledger lines to their sum."""
        try:
            for line in take_in(plant, now=READ_AT).deliveries:
                self.unbalanced += line.read != line.stored + line.known + line.superseded + line.refused
        except Exception as error:
            self.crashes[f"take_in: {type(error).__name__}: {error}"] += 1


def plant_in(folder: Path) -> Plant:
    """Make a small plant."""
    (folder / "config").mkdir(parents=True)
    (folder / "trends").mkdir()
    (folder / "config" / "plant.toml").write_text(PLANT_TOML)
    (folder / "config" / "tags.csv").write_text(TAGS_CSV)
    (folder / "config" / "instruments.csv").write_text("instrument,kind,place\n")
    (folder / "config" / "limits.csv").write_text("limit_id,tag\n")
    return load(folder)


def fuzz(count: int, seed: int, archive: bool = True, batch: int = BATCH) -> Tally:
    """Damage and read `count` files."""
    chance, files, tally = random.Random(seed), corpus(), Tally()
    while tally.files < count:
        with tempfile.TemporaryDirectory() as folder:
            plant = plant_in(Path(folder) / "plant")
            for number in range(min(batch, count - tally.files)):
                name, data = damaged(files, chance)
                tally.read(name, data, plant)
                path = plant.folder / "trends" / f"{number:04}-{name}"
                path.write_bytes(data)
                utime(path, (0, 0))  # a file touched just now may still be being written
            if archive:
                tally.balance(plant)
    return tally


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--files", type=int, default=FILES)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    start = time.perf_counter()
    tally = fuzz(arguments.files, arguments.seed)
    print(f"{time.perf_counter() - start:.0f} s", tally)
    if arguments.files >= FILES:
        record(figures(tally))


def figures(tally: Tally) -> list[Figure]:
    rows = [
        ("files", "damaged exports read", tally.files, "files", "higher", FILES),
        ("crashes", "of these ended in a traceback", sum(tally.crashes.values()), "files", "lower", 0),
        ("lost", "lines neither read nor refused", tally.lost, "lines", "lower", 0),
        ("unbalanced", "ledger lines that do not add up", tally.unbalanced, "lines", "lower", 0),
        ("slowest", "longest time that one of them took", round(tally.slowest_s, 2), "s", "lower", 5),
        ("refused", "of these refused as a whole, in a sentence", tally.refused, "files", "lower", None),
    ]
    return [
        Figure(f"ingest-fuzz-{name}", what, value, unit, better, bar, bar, tally.files, COMMAND, today())
        for name, what, value, unit, better, bar in rows
    ]


if __name__ == "__main__":
    main()
