"""Thresholds: the bars that were derived from a budget of false alarms, read once from thresholds.json.

Each line of the file names its value, what it rests on, and when it was derived. ``python -m
benchmarks.thresholds`` makes it again.
"""

import json
from functools import cache
from pkgutil import get_data
from typing import Any


@cache
def _lines() -> dict[str, dict[str, Any]]:
    # Part of the package like its code, not a file of the plant: what finds the one finds the other.
    return dict(json.loads(get_data("pipeline.evidence", "thresholds.json") or b"{}"))


def threshold(name: str) -> float:
    """Return a threshold that is one number."""
    return float(_lines()[name]["value"])


def curve(name: str) -> tuple[tuple[float, float], ...]:
    """Return a threshold that depends on something: pairs of it and the threshold, ascending."""
    return tuple((float(at), float(value)) for at, value in _lines()[name]["value"])
