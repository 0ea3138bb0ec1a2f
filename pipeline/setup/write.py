"""Write: the drafted config goes into the plant's folder; a config that is there already stays as it is."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pipeline.clock import zone_of
from pipeline.errors import Fault, RefusedError, UsageError
from pipeline.setup.draft import Draft, draft
from pipeline.setup.files import config_files
from pipeline.setup.look import Look, look

CONFIG, BESIDE = "config", "config-draft"


@dataclass(frozen=True)
class Setup:
    """What was drafted, where it was written, and the exports that could not be read."""

    draft: Draft
    folder: Path
    faults: tuple[Fault, ...]


def setup(
    plant: Path,
    exports: Sequence[Path],
    zone: str | None = None,
    name: str | None = None,
    now: datetime | None = None,
) -> Setup:
    """Look at exports and write a draft of the plant's config.

    Parameters
    ----------
    plant : Path
        The plant's folder; made where it is not there.
    exports : sequence of Path
        Files, or folders with everything in them.
    zone, name : str, optional
        The plant's time zone and name, where the user gave them.
    now : datetime, optional
        Tells years of two digits that stand first.

    Raises
    ------
    UsageError
        No export was named, or the zone is none.
    RefusedError
        None of the exports can be read.
    """
    if zone:
        try:
            zone_of(zone)
        except ValueError as error:
            raise UsageError(f"--time-zone: {error}") from error
    paths = list(_files(exports))
    if not paths:
        raise UsageError("no export found; name the files, or a folder that holds some")
    looks, faults = look(paths, now)
    if not looks:
        first = faults[0]
        raise RefusedError(first.file, first.problem, first.remedy, first.row)
    drafted, more = _drafted(looks, zone)
    folder = plant / (BESIDE if (plant / CONFIG).exists() else CONFIG)
    title = name or plant.resolve().name.replace("-", " ").replace("_", " ").capitalize() or "Plant"
    texts = config_files(drafted, title, _trends(plant, exports))
    folder.mkdir(parents=True, exist_ok=True)
    for file, text in texts.items():
        (folder / file).write_text(text, encoding="utf-8", newline="")
    return Setup(drafted, folder, (*faults, *more))


def _drafted(looks: list[Look], zone: str | None) -> tuple[Draft, list[Fault]]:
    """Draft from what can be read; an export whose times cannot costs the others nothing."""
    faults: list[Fault] = []
    while True:
        try:
            return draft(looks, zone), faults
        except RefusedError as error:
            others = [one for one in looks if one.file != error.fault.file]
            if not others or len(others) == len(looks):
                raise
            looks, faults = others, [*faults, error.fault]


def _files(exports: Iterable[Path]) -> Iterable[Path]:
    for path in exports:
        if path.is_dir():
            yield from sorted(found for found in path.rglob("*") if found.is_file() and found.name[0] != ".")
        else:
            yield path


def _trends(plant: Path, exports: Sequence[Path]) -> str:
    """Return the folder of the exports as plant.toml names it: relative where it lies in the plant's."""
    folders = {(path if path.is_dir() else path.parent).resolve() for path in exports}
    common = next(iter(folders))
    while not all(folder.is_relative_to(common) for folder in folders):
        common = common.parent
    root = plant.resolve()
    # The plant's own folder would bring config, archive and reports in as exports.
    inside = common.is_relative_to(root) and common != root
    return (
        common.relative_to(root).as_posix() if inside else (common.as_posix() if common != root else "trends")
    )
