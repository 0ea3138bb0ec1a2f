"""States: when a reading means something, judged from the recorded states by a plain rule.

The conditions of the demo are comparisons joined by ``or``; nothing else is read here. A state counts
once it has held for its settling time, counted from the first record that shows it.
"""

import tomllib

import numpy as np

from pipeline.demo.calendar import BoolArray, Calendar
from pipeline.demo.filters import hours_since_true
from pipeline.demo.sheets import TEMPLATES, Sheets
from pipeline.demo.water import Signals


def valid(calendar: Calendar, sheets: Sheets, recorded: Signals) -> dict[str, BoolArray]:
    """Return, tag by tag, where its readings mean something."""
    states = {"": np.ones(len(calendar), dtype=np.bool_), **settled_states(calendar, recorded)}
    return {tag.tag: states[tag.valid_when] for tag in sheets.tags.values()}


def settled_states(calendar: Calendar, recorded: Signals) -> dict[str, BoolArray]:
    """Return where each state of plant.toml holds and has settled."""
    plant = tomllib.loads((TEMPLATES / "plant.toml").read_text(encoding="utf-8"))
    found = {}
    for state in plant["state"]:
        holds = _holds(state["when"], recorded)
        held_h = hours_since_true(calendar, holds)
        found[state["name"]] = holds & (held_h * 60.0 >= state["settle_minutes"])
    return found


def _holds(condition: str, recorded: Signals) -> BoolArray:
    """Return where a condition such as ``YS-131 == 1 or YS-132 == 1`` is true."""
    parts = []
    for comparison in condition.split(" or "):
        tag, sign, number = comparison.split()
        value = recorded[tag]
        parts.append(value == float(number) if sign == "==" else value > float(number))
    return np.asarray(np.logical_or.reduce(parts))
