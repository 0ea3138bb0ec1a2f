"""Doubts: what a config may say and may still be a slip of the pen; nothing stops for it."""

from collections.abc import Iterator
from difflib import get_close_matches

from pipeline.config.load import Plant
from pipeline.config.tags import MEASURES
from pipeline.errors import Fault


def doubts(plant: Plant) -> Iterator[Fault]:
    """Yield each thing that somebody should look at, with its remedy."""
    yield from _measures(plant)
    yield from _without_heartbeat(plant)


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
