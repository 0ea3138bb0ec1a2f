"""States: a column of few distinct values is the state of a machine, not a measurement."""

import re

from pipeline.setup.guess import Guess, Signal, plain

MOST_STATES = 8
"""A machine has few states (common practice, no source)."""
FEWEST_READINGS = 10

_OFF = "off|stop|stopped|closed|idle|no|false|not running|standby|disabled|inactive|normal|ok"
_ON = "on|run|running|open|opened|yes|true|auto|enabled|active|start|started"
_THIRD = "fault|failed|fail|alarm|trip|tripped|error|manual|hand|local|remote|maintenance"
_RANKS = {word: rank for rank, words in enumerate((_OFF, _ON, _THIRD)) for word in words.split("|")}
"""What recorders call states, in their usual order 0, 1, 2: common practice, no source."""

_WORD = re.compile(r"[A-Za-z][A-Za-z /_-]{0,23}")


def states(signal: Signal) -> Guess | None:
    """Return the tag's ``states`` where it has few distinct values, else None.

    Words become numbers in their usual order (Off 0, On 1), words we do not know after them by alphabet.
    Whole numbers from 0 upwards keep their own number as name, for people to fill in.
    """
    words = sorted(set(signal.words), key=lambda word: (_RANKS.get(word.lower(), 3), word.lower(), word))
    numbers = signal.numbers.unique().sort().to_list() if signal.numbers.n_unique() <= MOST_STATES else None
    if numbers is None or not _are_states(words, numbers):
        return None
    if not words:
        return _numbered(signal, numbers)
    taken = {int(number) for number in numbers}
    free = (number for number in range(MOST_STATES * 2) if number not in taken)
    pairs = [f"{number}={word}" for number, word in zip(free, _distinct(words), strict=False)]
    return Guess("|".join(pairs), f"few distinct values: {', '.join(_distinct(words)[:4])}")


def _distinct(words: list[str]) -> list[str]:
    """Of words that differ in capitals alone the first stands: states are read in lower case."""
    return list({word.lower(): word for word in reversed(words)}.values())[::-1]


def _are_states(words: list[str], numbers: list[float]) -> bool:
    whole = all(number >= 0 and number == int(number) and number < 100 for number in numbers)
    if not whole or len(words) > MOST_STATES or not words + numbers:
        return False
    if words:
        # One text that never changes says nothing of the plant: a station's code, a unit.
        return all(_WORD.fullmatch(word) for word in words) and (
            len(words) + len(numbers) > 1 or words[0].lower() in _RANKS
        )
    return len(numbers) > 1 or numbers[0] in (0, 1)


def _numbered(signal: Signal, numbers: list[float]) -> Guess | None:
    repeats = len(signal.numbers) >= FEWEST_READINGS * len(numbers)
    if not repeats:
        return None
    seen = ", ".join(plain(number) for number in numbers)
    if numbers in ([0.0], [1.0]):
        return Guess("0=Off|1=On", f"only ever {seen}")
    if numbers == [0.0, 1.0]:
        return Guess("0=Off|1=On", "only 0 and 1")
    return Guess("|".join(f"{plain(n)}=State {plain(n)}" for n in numbers), f"few distinct values: {seen}")
