"""Run: the job told in order; the only file that knows every stage."""

import hashlib
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from time import perf_counter

import polars as pl

from pipeline import checks, limits
from pipeline.archive.areas import read_areas
from pipeline.archive.ledger import Delivery, read_ledger
from pipeline.archive.refused import refused_days
from pipeline.archive.trends import first_and_last, read
from pipeline.batch import Tell
from pipeline.clock import Period, weeks_between
from pipeline.config.limits import Limit
from pipeline.config.load import Plant, load
from pipeline.deliver.outbox import Outbox, Posted
from pipeline.errors import ConfigError, Fault, UsageError
from pipeline.gather import gather
from pipeline.intake import Intake, take_in
from pipeline.investigate import upsets_of
from pipeline.judge import judge, settings_of
from pipeline.logbook.book import read_logbook
from pipeline.logbook.slips import Slips
from pipeline.parts import parts
from pipeline.report.index import write_index
from pipeline.report.verdict import judge as verdict
from pipeline.report.write import write_report
from pipeline.week import Refused, Week

_UNIT = re.compile(r"\s*[(\[][^()\[\]]*[)\]]$")
"""A unit in brackets behind a tag's name, as headers have it."""
CONFIG_FILES = ("plant.toml", "tags.csv", "instruments.csv", "limits.csv")


def load_plant(folder: Path) -> Plant:
    """Read a plant's config and check it against the statistics and checks there are."""
    needs = {name: getattr(part, "NEEDS", ()) for name, part in parts(limits).items()}
    return load(folder, statistics=needs, checks=parts(checks).keys(), beyond=_told_by_parts)


def _told_by_parts(plant: Plant) -> Iterator[Fault]:
    """Yield what checks and statistics themselves cannot use."""
    try:
        settings_of(plant)
    except ConfigError as error:
        yield from error.faults
    for limit in plant.limits.values():
        if limit.statistic in parts(limits) and limit.basis not in _bases(limit):
            yield _no_samples(limit)


def _bases(limit: Limit) -> tuple[str, ...]:
    """Return what the statistic of `limit` can be taken from."""
    found: tuple[str, ...] = getattr(parts(limits)[limit.statistic], "BASES", ("trend",))
    return found


def _no_samples(limit: Limit) -> Fault:
    problem = f"{limit.statistic} is taken from the trend alone"
    return Fault("config/limits.csv", limit.row, "basis", problem, "leave the cell blank")


@dataclass(frozen=True)
class Written:
    """A report that was written.

    Parameters
    ----------
    label : str
        Of its period.
    folder : Path
    sentence : str
        Its verdict.
    pressing : frozenset of str
        Severities of limits outside and of instruments on the list.
    """

    label: str
    folder: Path
    sentence: str
    pressing: frozenset[str]


@dataclass
class Outcome:
    """What a run did.

    Parameters
    ----------
    intake : Intake or None
        None where nothing was to be read.
    reports : list of Written
        Oldest first.
    logbook_faults : list of Fault
        Lines of lab and logbook files that could not be read.
    slips : list of Fault
        Lab results that were read and may be slips of the pen.
    overtaken : list of str
        Weeks that were reported before some of their readings came.
    posted : list of Posted
        What became of the letters that waited.
    nameless, empty : list of str
        Tags that the archive holds and the config no longer names; tags that the config names and of which
        nothing was ever stored.
    """

    intake: Intake | None = None
    reports: list[Written] = field(default_factory=list)
    logbook_faults: list[Fault] = field(default_factory=list)
    slips: list[Fault] = field(default_factory=list)
    overtaken: list[str] = field(default_factory=list)
    posted: list[Posted] = field(default_factory=list)
    nameless: list[str] = field(default_factory=list)
    empty: list[str] = field(default_factory=list)


def run(plant: Plant, now: Callable[[], datetime], tell: Tell | None = None) -> Outcome:
    """Take in everything new, report every complete week since the last one reported, send what waits."""
    intake = take_in(plant, now=now(), tell=tell)
    weeks, outbox = list(unreported_weeks(plant)), Outbox(plant)
    outbox.expect([week.label for week in weeks])
    outcome = report(plant, weeks, now)
    outcome.posted = list(outbox.send(now()))
    outcome.intake = intake
    outcome.overtaken = list(_overtaken(plant))
    held = read_areas(plant.archive)
    outcome.nameless, outcome.empty = sorted(held.keys() - plant.tags), sorted(plant.tags.keys() - held)
    return outcome


def complete_weeks(plant: Plant) -> list[Period]:
    """Return every week whose last reading has been recorded."""
    known = first_and_last(plant.archive)
    if known is None:
        return []
    return list(weeks_between(known[0], known[1] + _steps(plant)[-1], plant.zone, plant.file.week_starts))


def _steps(plant: Plant) -> list[timedelta]:
    """Return the recording steps, the shortest first."""
    return [timedelta(seconds=step) for step in sorted(tag.step_s for tag in plant.tags.values())]


def _known_until(plant: Plant, period: Period, last: datetime) -> datetime:
    """Return up to when a period can be judged: its end, or where the newest export leaves off before that.

    What has not been delivered yet is no gap.
    """
    steps = _steps(plant)
    return period.end if last + steps[-1] >= period.end else last + steps[0]


def unreported_weeks(plant: Plant) -> Iterator[Period]:
    """Every complete week after the last one reported; for a new plant only the newest."""
    complete = complete_weeks(plant)
    reported = [k for k, week in enumerate(complete) if (plant.reports / week.label / "run.json").is_file()]
    yield from complete[reported[-1] + 1 :] if reported else complete[-1:]


def _overtaken(plant: Plant) -> Iterator[str]:
    """Weeks whose page does not know all that the archive holds of them by now."""
    ledger = read_ledger(plant.archive)
    for week in complete_weeks(plant):
        told = plant.reports / week.label / "run.json"
        if told.is_file():
            known = {line["source"] for line in json.loads(told.read_text(encoding="utf-8"))["inputs"]}
            if not {delivery.source for delivery in _holding(ledger, week)} <= known:
                rows = read(plant.archive, start=week.start, end=week.end)
                if not set(rows.select(pl.col("source").unique()).collect()["source"]) <= known:
                    yield week.label


def report(plant: Plant, periods: list[Period], now: Callable[[], datetime]) -> Outcome:
    """Judge each period by what was known at its end, and write its folder.

    Raises
    ------
    UsageError
        The archive holds nothing of a period.
    """
    outcome = Outcome()
    first, last = first_and_last(plant.archive) or (None, None)
    # A computer whose clock is behind the records knows no better than they do.
    slips = Slips(first)
    _, outcome.logbook_faults = read_logbook(plant, max(now(), last or now()), slips)
    outcome.slips = slips.found
    outcome.reports = [_written(plant, period, now) for period in periods]
    if periods:
        write_index(plant.reports, plant.name)
    return outcome


def _written(plant: Plant, period: Period, now: Callable[[], datetime]) -> Written:
    """Judge a period and write its folder; of the record behind it nothing is kept in memory."""
    started = perf_counter()
    week = week_of_period(plant, period)
    week = replace(week, upsets=upsets_of(plant, period, week.as_of, week.findings))
    folder = plant.reports / period.label
    seconds = round(perf_counter() - started, 3)
    write_report(week, folder, {"made_at": now().isoformat(timespec="seconds"), "seconds": seconds})
    outside = {result.limit.severity for result in week.limits if result.status == "outside"}
    pressing = outside | {entry.finding.severity for entry in week.entries}
    return Written(period.label, folder, verdict(week).sentence, frozenset(pressing))


def week_of_period(plant: Plant, period: Period) -> Week:
    """Return what the report of `period` says, from the archive up to its end alone, as far as it reaches."""
    known = first_and_last(plant.archive)
    if known is None or known[0] >= period.end or known[1] < period.start:
        first, last = (
            f"{when.astimezone(plant.zone):%Y-%m-%d}" for when in known or (period.start, period.end)
        )
        held = f"{first} to {last}" if known else "nothing; run `stillwell ingest`"
        raise UsageError(f"{period.label}: the archive holds no reading of it; it holds {held}")
    book, _ = read_logbook(plant)
    cases = gather(plant, book, _known_until(plant, period, known[1]))
    week = judge(plant, period, cases, settings_of(plant), book.until(period.end).verdicts)
    return replace(
        week,
        deliveries=_deliveries(plant, period),
        refused=tuple(_refused(plant, period)),
        config_hash=config_hash(plant),
    )


def _deliveries(plant: Plant, period: Period) -> pl.DataFrame:
    """Ledger lines of the deliveries that hold readings of the period."""
    lines = [asdict(delivery) for delivery in _holding(read_ledger(plant.archive), period)]
    return pl.DataFrame(lines, infer_schema_length=None)


def _refused(plant: Plant, period: Period) -> Iterator[Refused]:
    """Yield what was refused of the plant's tags in the period, as far as the stamps tell the day.

    A delivery of which everything was refused has no times of its own: its stamps alone can tell.
    """
    ledger = read_ledger(plant.archive)
    holding = {delivery.source for delivery in _holding(ledger, period)}
    names = {tag.name_in_export: tag.tag for tag in plant.tags.values()}
    days = {start.astimezone(period.zone).date() for start, _ in period.days}
    for one in ledger:
        if one.refused and (one.source in holding or one.first_time is None):
            for name, meant, count in refused_days(plant.archive, one.source):
                bare = _UNIT.sub("", name)
                tag = names.get(name) or names.get(bare, bare)
                if tag in plant.tags and (meant & days if meant else one.source in holding):
                    yield Refused(tag, meant, count)


def _holding(ledger: list[Delivery], period: Period) -> Iterator[Delivery]:
    """Yield the deliveries that hold readings of a period, as far as their first and last times tell."""
    for delivery in ledger:
        first, last = delivery.first_time, delivery.last_time
        if first is not None and last is not None and first < period.end and last >= period.start:
            yield delivery


def config_hash(plant: Plant) -> str:
    """Return a short hash of the config's four files."""
    digest = hashlib.sha256()
    for name in CONFIG_FILES:
        digest.update((plant.folder / "config" / name).read_bytes())
    return digest.hexdigest()[:12]
