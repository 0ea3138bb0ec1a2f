"""Doubts: what a config may say and may still be a slip of the pen; nothing stops for it."""

import os
from collections.abc import Iterator
from difflib import get_close_matches
from stat import S_IRGRP, S_IROTH

from pipeline.config.load import Plant
from pipeline.config.tags import MEASURES
from pipeline.errors import Fault
from pipeline.units import conversion


def doubts(plant: Plant) -> Iterator[Fault]:
    """Yield each thing that somebody should look at, with its remedy."""
    yield from _measures(plant)
    yield from _without_heartbeat(plant)
    yield from _folders(plant)
    yield from _beyond_the_span(plant)
    yield from _unlike_twins(plant)
    yield from _password(plant)


def _measures(plant: Plant) -> Iterator[Fault]:
    for tag in plant.tags.values():
        if tag.measures in MEASURES:
            continue
        near = get_close_matches(tag.measures.lower(), MEASURES, 1)
        remedy = f"did you mean {near[0]}?" if near else f"those known are {', '.join(MEASURES)}"
        problem = f"{tag.measures!r} is no word we know, so no check is made for it in particular"
        yield Fault("config/tags.csv", tag.row, "measures", problem, remedy)


def _without_heartbeat(plant: Plant) -> Iterator[Fault]:
    limited = {limit.tag for limit in plant.limits.values()}
    for name, tag in plant.tags.items():
        if name in limited and tag.stands_until_the_next:
            problem = f"{name} is under a limit, and if it dies its last value goes on standing"
            remedy = "write the longest time for which it stays silent, where that is known"
            yield Fault("config/tags.csv", tag.row, "heartbeat_s", problem, remedy)


def _folders(plant: Plant) -> Iterator[Fault]:
    """Name the folder of the trends where it is not there; a plant may do without a lab and a logbook."""
    trends = plant.file.exports.trends
    if not (plant.folder / trends).is_dir():
        problem = f"there is no folder {trends!r}"
        yield Fault("config/plant.toml", None, "exports.trends", problem, "make it, or correct its name")


def _beyond_the_span(plant: Plant) -> Iterator[Fault]:
    """Name limits on readings that no reading within the instrument's span can reach."""
    for limit in plant.limits.values():
        tag = plant.tags.get(limit.tag)
        if tag is None or limit.statistic != "instantaneous":
            continue
        ends = [(limit.low, tag.low, "below", "low"), (limit.high, tag.high, "above", "high")]
        for bound, end, word, column in ends:
            if bound is not None and end is not None and (bound < end if word == "below" else bound > end):
                problem = f"{bound:g} is {word} what {limit.tag} can read ({end:g}), so it is never passed"
                remedy = "see whether the limit or the span in config/tags.csv is meant otherwise"
                yield Fault("config/limits.csv", limit.row, column, problem, remedy)


def _unlike_twins(plant: Plant) -> Iterator[Fault]:
    for tag in plant.tags.values():
        twin = plant.tags.get(tag.twin, tag)
        try:
            conversion(twin.unit, tag.unit)
        except ValueError:
            problem = f"{tag.tag} is measured in {tag.unit}, its twin {twin.tag} in {twin.unit}"
            yield Fault("config/tags.csv", tag.row, "twin", problem, "name the tag that measures the same")


def _password(plant: Plant) -> Iterator[Fault]:
    """Name the password's file where it is not there, or where others on this computer may read it."""
    if plant.file.mail is None or plant.file.mail.password_file is None:
        return
    path = plant.folder / plant.file.mail.password_file
    place = ("config/plant.toml", None, "mail.password_file")
    if not path.is_file():
        yield Fault(*place, f"there is no file {str(path)!r}", "write the password into it, and nothing else")
    elif os.name == "posix" and path.stat().st_mode & (S_IRGRP | S_IROTH):
        yield Fault(*place, f"others may read {str(path)!r}", f"keep it to yourself: chmod 600 {path}")
