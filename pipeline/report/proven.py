"""Proven: how often earlier suspicions of each kind turned out right; counts first, shares only of many."""

from typing import Any

from pipeline.report.words import joined, percent, plural
from pipeline.week import Week

MOST_NAMED = 5

MANY = 20
"""Fewer answers than this make no percentage. Common practice, no source."""

_RIGHT = {"confirmed": "confirmed", "borne_out": "borne out by what the service found"}
_WRONG = {"dismissed": "dismissed", "not_borne_out": "not borne out by what the service found"}
_WATER = {"process": "the water itself"}


def proven(week: Week) -> list[str]:
    """Return one line a kind of finding for which anything is known."""
    lines = [_line(row) for row in week.verdict_tally.iter_rows(named=True)]
    lost = week.unknown_answers
    if lost:
        names = ", ".join(lost[:MOST_NAMED]) + (" and others" if len(lost) > MOST_NAMED else "")
        lines.append(f"{plural(len(lost), 'answer')} to no finding there ever was: {names}; correct the id")
    return [line for line in lines if line]


def _line(row: dict[str, Any]) -> str:
    right, wrong, water = (_sum(row, words) for words in (_RIGHT, _WRONG, _WATER))
    answered = right + wrong + water
    if not answered:
        return ""
    told = [f"{row[name]} {word}" for name, word in {**_RIGHT, **_WATER, **_WRONG}.items() if row.get(name)]
    kind = str(row["kind"]).replace("_", " ")
    share = f" ({percent(100 * right / answered)} right)" if answered >= MANY else ""
    return f"{kind}: {plural(answered, 'answer')}{share}, {joined(told)}"


def _sum(row: dict[str, Any], words: dict[str, str]) -> int:
    return sum(int(row.get(name) or 0) for name in words)
