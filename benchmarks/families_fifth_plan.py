"""Fifth family, plan: which sensors its four plants hold and what shall be wrong with which of them."""

from collections.abc import Iterator

import numpy as np

from benchmarks.families_fifth import PLACES, PLANTS, Place
from benchmarks.families_sensors import Order
from benchmarks.faults import SIZES

REGION_EVERY = 6
"""Of the seeds of mixed trains, every so many make a region of four plants: as many sensors in all."""

FAULTY_SHARE = 0.3
KINDS = (*("drift",) * 5, *("fouling",) * 4, *("step",) * 3, *("noisier",) * 2, *("damped",) * 2, "stuck",
         "spikes", "pegged", "gap", "out_of_range", "scale", "resolution", "clock", "copied")  # fmt: skip
CLEAN = ("flow", "level", "pressure", "temperature")
"""Measures of which nothing fouls: they drift instead."""

WEEKS_TO_TOLERANCE = (2.0, 14.0)


def region(seed: int) -> Iterator[Iterator[Order]]:
    """Sensors of every plant of a region."""
    for number, places in enumerate(PLANTS.values()):
        yield _plant(np.random.default_rng([seed, 50, number]), places)


def _plant(random: np.random.Generator, places: tuple[str, ...]) -> Iterator[Order]:
    """Sensors of one plant; the streams of one analyser are alike in all that concerns it."""
    before = ""
    shared: dict[str, Order] = {}
    for name in places:
        place = PLACES[name]
        order = _order(random, name, place, before)
        before = name
        yield shared.setdefault(place.shared, order) if place.shared else order


def _order(random: np.random.Generator, name: str, place: Place, before: str) -> Order:
    reference = str(random.choice(place.references))
    if random.random() >= FAULTY_SHARE:
        return Order("mix", name, reference)
    kind = str(random.choice(KINDS))
    if kind == "copied" and (before != name or place.shared):
        kind = "stuck"
    kind = "drift" if kind == "fouling" and place.measure.name in CLEAN else kind
    size = float(random.choice(SIZES[kind]))
    if kind in ("drift", "fouling"):
        # So many weeks from nothing to the tolerance, evenly on a log scale.
        weeks = np.exp(random.uniform(*np.log(WEEKS_TO_TOLERANCE)))
        size = float(place.measure.tolerance / weeks / place.measure.slow_rate)
    return Order("mix", name, reference, kind, size)
