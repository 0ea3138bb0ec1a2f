"""Broken: detectors spoilt on purpose, so that it is seen that the bench can fail.

``halved``: every bar at half its height. ``dropnan``: what is missing or out of service is left out and
the record closed up, as happens where a table is cleaned of its empty rows before it is looked at.
"""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from functools import partial
from typing import Any
from unittest.mock import patch

import numpy as np

from benchmarks.families import Bools, Floats
from benchmarks.families_sensors import Train
from pipeline.baseline import stuck
from pipeline.checks import drift, frozen
from pipeline.evidence.bar import Bar
from pipeline.evidence.errors import Errors

WAYS = ("halved", "dropnan")


@contextmanager
def applied(way: str) -> Iterator[None]:
    """Judge with halved bars as long as the context lasts, if so asked."""
    if way != "halved":
        yield
        return
    with ExitStack() as stack:
        for name in ("against_grabs", "against_history"):
            stack.enter_context(patch.object(drift, name, _half_limit(getattr(drift, name))))
        stack.enter_context(patch.object(drift, "Bar", _half_bar))
        usual: Callable[..., float] = stuck.longest_usual_run
        stack.enter_context(patch.object(stuck, "longest_usual_run", lambda *given: usual(*given) / 2.0))
        stack.enter_context(patch.object(stuck, "FEWEST_READINGS", 2))
        sure = frozen.Settings().sure_times / 2.0
        stack.enter_context(patch.object(frozen, "Settings", partial(frozen.Settings, sure_times=sure)))
        yield


def _half_limit(against: Callable[..., Errors]) -> Callable[..., Errors]:
    def halved(*given: Any) -> Errors:
        errors = against(*given)
        return replace(errors, limit=errors.limit / 2.0)

    return halved


def _half_bar(tolerance: Callable[[float], float], *rest: Any) -> Bar:
    return Bar(lambda day: tolerance(day) / 2.0, *rest)


def spoilt(train: Train, way: str) -> Train:
    """Return the train as the checks get to see it."""
    if way != "dropnan":
        return train
    sensors = [replace(one, shown=_closed_up(one.shown, train.running)) for one in train.sensors]
    return replace(train, sensors=sensors, running=np.ones_like(train.running))


def _closed_up(shown: Floats, running: Bools) -> Floats:
    """Return the readings that are left, one after the other, and nothing where they end."""
    kept = shown[np.isfinite(shown) & running]
    return np.concatenate([kept, np.full(len(shown) - len(kept), np.nan)])
