"""Line: one threshold as it is written down, with what it rests on and why another value stands."""

from collections.abc import Callable, Mapping
from itertools import chain
from multiprocessing import get_context
from typing import Any

from benchmarks.results import today

FAMILY, SEED = "A", 31_000
PROCESSES = 2

Standing = Mapping[str, tuple[object, str]]
"""By name, values that stand and why they differ from what was derived."""


def noted(name: str, value: object, what: str, n: int, standing: Standing | None = None) -> dict[str, object]:
    """Return the line of thresholds.json.

    Parameters
    ----------
    name : str
    value : object
        As derived.
    what : str
        What it rests on: the budget.
    n : int
        Sensors.
    standing : Standing, optional
    """
    kept, why = (standing or {}).get(name, (value, ""))
    return {
        "value": kept, "derived": value, "what": what, "kept_because": why if kept != value else "",
        "n": n, "family": FAMILY, "seed": SEED, "date": today(),
    }  # fmt: skip


def mapped(work: Callable[[int], list[Any]], count: int) -> list[Any]:
    """Run `work` for so many seeds, in their order, and put the lists together."""
    with get_context("spawn").Pool(PROCESSES) as pool:
        return list(chain.from_iterable(pool.imap(work, range(SEED, SEED + count))))
