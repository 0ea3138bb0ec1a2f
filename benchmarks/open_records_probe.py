"""Probe records: technicians' codes against what the checks say of the same readings, stations together."""

import csv
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from pathlib import Path

import polars as pl

from benchmarks.detection_counts import NONE, YEAR_DAYS, Bars, Row, lower, of_share
from benchmarks.open_records_labels import TAGS, deployments, events_of, read_record
from benchmarks.open_records_plant import CONFIGS, Judged, judged, make_plant
from benchmarks.open_records_scoring import Event, Sorted, Told, clean_days, recall, sort_out
from benchmarks.scoring_rates import Share

CONFIG = "probe"
SWAPS = "sonde_swap_steps.csv"
OFFSETS = {"lks": -6}
"""Hours of local standard time from UTC by the beginning of a station's code (Lake Superior)."""

OTHERS_OFFSET = -5
"""The other stations', on the Atlantic."""

MONTH_DAYS = YEAR_DAYS / 12.0
PROBES = "*wq[0-9]*.csv*"
"""Records of water quality: station's code, wq, year."""

ANY_LENGTH = timedelta()
LASTING = timedelta(hours=2)
"""A malfunction of a reading or two is over before anybody hears of it."""

KINDS: tuple[tuple[str, str, timedelta, str, Bars], ...] = (
    ("rejected", "rejected", ANY_LENGTH, "deployments whose probe failed its post-calibration", (1.0, None)),
    ("fouling", "fouling", LASTING, "fouling and blocked optics of two hours or more", (1.0, None)),
    ("malfunction", "malfunction", LASTING, "malfunctions of two hours or more", (1.0, None)),
    ("block", "block", LASTING, "stretches of two hours or more without a number", (1.0, 0.95)),
    ("drift", "drift", ANY_LENGTH, "sensor drift", NONE),
    ("malfunction-all", "malfunction", ANY_LENGTH, "malfunctions, single readings too", NONE),
    ("fouling-all", "fouling", ANY_LENGTH, "fouling, single readings too", NONE),
    ("spikes", "spikes", ANY_LENGTH, "spikes", NONE),
    ("out-of-water", "out of water", ANY_LENGTH, "probe out of the water", NONE),
)
"""Name, kind of event, shortest, sentence, target and floor."""


@dataclass(frozen=True)
class Station:
    """All years of one station, judged.

    Parameters
    ----------
    name : str
        Its code.
    first, last : datetime [UTC]
        Of its readings.
    months : float
        Length of its records; the winters between them count for nothing.
    events, swaps : list of Event
        What the technicians found; swaps at which the fresh probe read otherwise.
    told : list of Told
    sorted : Sorted
    good : dict of str to DataFrame of READINGS
        Good readings of every tag that was recorded.
    unread : int
        Readings that were refused.
    """

    name: str
    first: datetime
    last: datetime
    months: float
    events: list[Event]
    swaps: list[Event]
    told: list[Told]
    sorted: Sorted
    good: dict[str, pl.DataFrame]
    unread: int

    def since(self, tag: str) -> datetime:
        """Return when a tag was recorded first [UTC]."""
        first: datetime = self.good[tag]["time"][0]
        return first

    def clean_years(self, tag: str) -> float:
        """Years of one tag in which nothing was under way."""
        here = [event for event in (*self.events, *self.swaps) if event.tag == tag]
        return clean_days(self.since(tag), self.last, here) / YEAR_DAYS


def stations(folder: Path, only: str = "") -> list[Station]:
    """Judge every station of a folder, one after the other, each with all its years."""
    paths = [path for path in sorted(folder.glob(PROBES)) if only in path.name]
    if not paths:
        raise SystemExit(f"{folder}: no record called {PROBES} with {only!r} in its name")
    return [station(code, list(years)) for code, years in groupby(paths, _code)]


def _code(path: Path) -> str:
    return path.name.rpartition("wq")[0]


def station(name: str, paths: Sequence[Path]) -> Station:
    """Put the records of one station through the job, and their flags beside what came of it."""
    offset = offset_of(name)
    records = [read_record(path, offset) for path in paths]
    instruments = _instruments()
    swaps = [(instruments[column], time) for record in records for column, time in deployments(record)]
    with tempfile.TemporaryDirectory() as folder:
        plant = make_plant(Path(folder) / "plant", CONFIG, paths, f"{offset:+03d}:00", swaps)
        done = judged(plant)
    fresh = _fresh(paths[0].parent / SWAPS, [path.name.split(".")[0] for path in paths], offset, done)
    days = sum((one["time"][-1] - one["time"][0]) / timedelta(days=1) for one in records)
    events = events_of(pl.concat(records, how="diagonal").sort("time"))
    good = {tag: case.readings.filter("good") for tag, case in done.cases.items()}
    return Station(
        name=name, first=done.first, last=done.last, months=days / MONTH_DAYS, events=events, swaps=fresh,
        told=done.told, sorted=sort_out(events, fresh, done.told), unread=done.intake.total("refused"),
        good={tag: readings for tag, readings in good.items() if readings.height},
    )  # fmt: skip


def offset_of(name: str) -> int:
    """Return the hours of a station's local standard time from UTC."""
    return next((hours for code, hours in OFFSETS.items() if name.startswith(code)), OTHERS_OFFSET)


def _instruments() -> dict[str, str]:
    """Return the instrument of each column of readings, as the config has it."""
    with (CONFIGS / CONFIG / "tags.csv").open(encoding="utf-8") as sheet:
        return {row["export_name"]: row["instrument"] for row in csv.DictReader(sheet)}


def _fresh(path: Path, names: Sequence[str], offset: int, done: Judged) -> list[Event]:
    """Return the swaps across which the median moved by more than the tolerance."""
    if not path.is_file():
        return []
    table = pl.read_csv(path).filter(pl.col("file").is_in(names), pl.col("param").is_in(list(TAGS)))
    found = []
    for row in table.drop_nulls("step").iter_rows(named=True):
        case = done.cases[TAGS[row["param"]]]
        allowed = case.tolerance_at(row["pre_median"])
        if allowed is not None and abs(row["step"]) > allowed:
            at = datetime.fromisoformat(f"{row['swap_lst'][:19]}{offset:+03d}:00")
            found.append(Event(case.tag.tag, frozenset({"drift"}), at, at, is_sure=False))
    return found


def rows(found: Sequence[Station]) -> list[Row]:
    """Return the rows of all records together."""
    months = sum(one.months for one in found)
    right, unsaid, wrong = (
        sum(len(getattr(one.sorted, part)) for one in found) for part in ("right", "open", "wrong")
    )
    each = [one.sorted.precision for one in found]
    listed = Share(sum(one.hits for one in each), sum(one.n for one in each))
    told = f"{wrong} of {right + unsaid + wrong} in {months:.0f} station-months; {unsaid} nobody can tell"
    rate, n = (wrong / months if months else None), len(found)
    return [
        *(_recall(found, *kind) for kind in KINDS),
        of_share(
            "open-probe-precision", "entries on open probe records that codes bear out, gaps apart", listed
        ),
        lower(
            "open-probe-false-per-month",
            "false entries a station-month on open probe records",
            rate,
            "1/month",
            n,
            (1.0, 1.0),
            told,
        ),
        lower("open-probe-unread", "readings refused", float(sum(s.unread for s in found)), "", n, (0, 0)),
        *(_false(found, tag, column) for column, tag in TAGS.items()),
    ]


def _recall(
    found: Sequence[Station], name: str, kind: str, at_least: timedelta, what: str, bars: Bars
) -> Row:
    each = [recall(one.events, one.told, kind, at_least) for one in found]
    total = Share(sum(one.hits for one in each), sum(one.n for one in each))
    return of_share(f"open-probe-{name}-recall", f"open probe records: {what}, named", total, bars)


def _false(found: Sequence[Station], tag: str, column: str) -> Row:
    here = [one for one in found if tag in one.good]
    years = sum(one.clean_years(tag) for one in here)
    wrong = sum(told.tag == tag for one in here for told in one.sorted.wrong)
    what = f"false entries a year on clean stretches of open probe records, {column}"
    name = f"open-probe-clean-{column.lower().replace('_', '-')}"
    rate = wrong / years if years else None
    return lower(name, what, rate, "1/year", len(here), detail=f"{wrong} in {years:.1f} clean years")


def by_station(found: Sequence[Station]) -> list[str]:
    """Return lines of what was told of each record."""
    lines = []
    for one in found:
        lines.append(
            f"{one.name}: {one.months:.1f} months, {len(one.events)} events, listed "
            f"{len(one.sorted.right)} right, {len(one.sorted.open)} open, {len(one.sorted.wrong)} wrong"
        )
        for word in ("right", "open", "wrong"):
            counted = Counter(f"{told.tag} {told.kind}" for told in getattr(one.sorted, word))
            lines.append(f"  {word}: " + ", ".join(f"{n} {what}" for what, n in sorted(counted.items())))
    return lines
