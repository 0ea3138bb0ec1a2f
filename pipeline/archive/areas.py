"""Areas: a tag stays in the area it was first stored under, so that no month has it in two files."""

import csv
from collections.abc import Iterable, Mapping
from io import StringIO
from pathlib import Path

from pipeline.archive.atomic import remove_file, replace_text
from pipeline.errors import Fault, StillwellError

FILE = "areas.csv"
COLUMNS = ("tag", "area")


def areas_of(archive: Path, configured: Mapping[str, str], tags: Iterable[str]) -> dict[str, str]:
    """Return the area under which each of `tags` is stored.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    configured : mapping of str to str
        Area of each tag as the config has it now; holds for tags that were never stored.
    tags : iterable of str
        Those to be stored.
    """
    stored = read_areas(archive)
    return {tag: stored.get(tag) or configured[tag] for tag in tags}


def read_areas(archive: Path) -> dict[str, str]:
    """Return the area of every tag that was ever stored.

    Raises
    ------
    StillwellError
        The file is damaged: a tag that is stored under another area would stand in two files.
    """
    path = archive / FILE
    if not path.exists():
        return {}
    try:
        first, *rows = csv.reader(StringIO(path.read_bytes().decode("utf-8-sig"), newline=""))
        if tuple(first) != COLUMNS or not all(len(row) == len(COLUMNS) and all(row) for row in rows):
            raise ValueError("it does not name a tag and its area in each line")
    except (ValueError, csv.Error) as error:
        folder = archive.name
        problem = f"the file is damaged ({error})"
        remedy = (
            "put it back as it was, from a backup; without one, move the folder "
            f"{folder} to another place and run `stillwell ingest`, which reads every export anew"
        )
        raise StillwellError(str(Fault(f"{folder}/{FILE}", None, None, problem, remedy))) from error
    return dict(rows)


def note_areas(archive: Path, areas: Mapping[str, str]) -> None:
    """Add `areas` to what is noted; tags that are there already stay where they are."""
    stored = read_areas(archive)
    together = dict(sorted({**areas, **stored}.items()))
    if together != stored:
        write_areas(archive, together)


def write_areas(archive: Path, areas: Mapping[str, str]) -> None:
    """Let `areas`, which are sorted by tag, be all that is noted."""
    if not areas:
        remove_file(archive / FILE)
        return
    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(areas.items())
    replace_text(archive / FILE, text.getvalue())
