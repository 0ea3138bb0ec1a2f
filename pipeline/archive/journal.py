"""Journal: what a run is about to change, noted first, so that the next run can take it back."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.archive.areas import write_areas
from pipeline.archive.atomic import PART, remove_file, replace_file, replace_text
from pipeline.archive.ledger import read_ledger
from pipeline.archive.months import SUPERSEDED, take_back
from pipeline.archive.parquet import Groups, long_of, read_readings, reading
from pipeline.archive.paths import month_path, refused_path, superseded_path
from pipeline.errors import Fault, StillwellError
from pipeline.table import LONG, empty

FILE = "unfinished.json"


@dataclass(frozen=True)
class Unfinished:
    """The deliveries of a batch, every file it may change by area and month, and the areas known before."""

    sources: tuple[str, ...]
    months: tuple[tuple[str, str], ...]
    areas: Mapping[str, str]


def note(archive: Path, batch: Unfinished) -> None:
    """Write down what is about to be changed."""
    content = {"sources": batch.sources, "months": batch.months, "areas": dict(batch.areas)}
    replace_text(archive / FILE, json.dumps(content, indent=1) + "\n")


def clear(archive: Path) -> None:
    """Strike the note: the batch stands in the ledger, or has been taken back."""
    remove_file(archive / FILE)


def recover(archive: Path) -> bool:
    """Take back what a run that was cut short left behind; True where there was anything.

    Every step may be cut short itself and simply runs again: the displaced rows are given up only
    once every month has its own back.
    """
    path = archive / FILE
    if not path.exists():
        return False
    batch = _read(path)
    finished = {delivery.source for delivery in read_ledger(archive)}
    for part in sorted(archive.rglob(PART)):
        part.unlink()
    sources = {source for source in batch.sources if source not in finished}
    months = batch.months
    if sources:
        for area, month in months:
            _restore(archive, area, month, sources)
        for source in sorted(sources):
            _forget(archive, source, months)
        write_areas(archive, batch.areas)
    clear(archive)
    return True


def _read(path: Path) -> Unfinished:
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        months = tuple((str(area), str(month)) for area, month in content["months"])
        return Unfinished(tuple(map(str, content["sources"])), months, dict(content["areas"]))
    except (ValueError, KeyError, TypeError) as error:
        folder = path.parent.name
        problem = f"what a run that was cut short noted cannot be read ({error})"
        remedy = (
            f"put back the folder {folder} from a backup, or move it away and run `stillwell ingest` anew"
        )
        raise StillwellError(str(Fault(f"{folder}/{FILE}", None, None, problem, remedy))) from error


def _restore(archive: Path, area: str, month: str, sources: set[str]) -> None:
    path = month_path(archive, area, month)
    if not path.exists():
        return
    files = [superseded_path(archive, source, area, month) for source in sorted(sources)]
    displaced = pl.concat([empty(SUPERSEDED), *(read_readings(file) for file in files if file.exists())])
    height = 0

    def write(temporary: Path) -> bool:
        nonlocal height
        changed = False
        with reading(path) as stored, Groups(temporary, list(LONG)) as groups:
            for tag in sorted(stored.places.keys() | set(displaced["tag"])):
                rows = long_of(stored.read_group(tag)) if tag in stored.places else empty(LONG)
                before = rows
                if rows["source"].is_in(sorted(sources)).any():
                    before = take_back(rows, displaced.filter(tag=tag), sources)
                    changed = True
                groups.add(before)
                height += before.height
        return changed

    replace_file(path, write)
    if not height:
        remove_file(path)


def _forget(archive: Path, source: str, months: Iterable[tuple[str, str]]) -> None:
    remove_file(refused_path(archive, source))
    for area, month in months:
        remove_file(superseded_path(archive, source, area, month))
    folder = superseded_path(archive, source, "", "").parent
    if folder.exists():
        folder.rmdir()
