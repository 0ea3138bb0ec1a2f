"""Lines: where the lines of a text lie, and which of them have as many cells as the header."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

QUOTE = b'"'
_WINDOW_BYTES = 2**18
"""What is looked through at a time: fits in a processor's cache."""


@dataclass(frozen=True)
class Lines:
    """Where each line of a text starts, and how many delimiters it has; -1 where it has quotes."""

    starts: np.ndarray
    marks: np.ndarray


def looked_over(data: bytes, delimiter: str) -> tuple[np.ndarray, bool]:
    """Return where the lines start, and whether surely no cell begins or ends with a blank."""
    tidy = data.isascii() and not data[:1].isspace() and not data[-1:].strip(b"\n").isspace()
    starts = [np.array([0])]
    for start, window in _windows(data, 1):
        end = window == ord("\n")
        starts.append(np.flatnonzero(end[:_WINDOW_BYTES]) + (start + 1))
        if tidy:
            edge = end | (window == _code(delimiter))
            blank = (window <= ord(" ")) > edge
            tidy = not ((blank[1:] & edge[:-1]) | (blank[:-1] & edge[1:])).any()
    found = np.concatenate(starts)
    return (found[:-1] if found[-1] == len(data) else found), tidy


def line_ends(data: bytes) -> int:
    """Count the line ends."""
    return sum(int(np.count_nonzero(window == ord("\n"))) for _, window in _windows(data))


def _windows(data: bytes, more: int = 0) -> Iterator[tuple[int, np.ndarray]]:
    """Yield the places where windows start and their signs, with so many `more` of the next one."""
    text = np.frombuffer(data, np.uint8)
    for start in range(0, len(text), _WINDOW_BYTES):
        yield start, text[start : start + _WINDOW_BYTES + more]


def edges_of(data: bytes, delimiter: str) -> np.ndarray:
    """Return where the delimiters and the line ends are."""
    mark = _code(delimiter)
    found = [
        np.flatnonzero((window == mark) | (window == ord("\n"))) + start for start, window in _windows(data)
    ]
    return np.concatenate([np.array([], np.int64), *found])


def lines_of(data: bytes, delimiter: str) -> Lines:
    """Find the lines of a text."""
    text = np.frombuffer(data, np.uint8)
    edges = edges_of(data, delimiter)
    last = np.flatnonzero(text[edges] == ord("\n"))
    starts = np.append(0, edges[last] + 1)
    marks = np.diff(np.append(np.append(-1, last), len(edges))) - 1
    if starts[-1] == len(data):
        starts, marks = starts[:-1], marks[:-1]
    if QUOTE in data:
        marks[np.searchsorted(starts, np.flatnonzero(text == ord(QUOTE)), side="right") - 1] = -1
    return Lines(starts, marks)


def kept(data: bytes, starts: np.ndarray, keep: np.ndarray) -> bytes:
    """Return the lines to be kept, in their order."""
    if keep.all():
        return data
    turns = np.flatnonzero(np.diff(keep.astype(np.int8), prepend=0, append=0))
    at = np.append(starts, len(data))[turns].tolist()
    view = memoryview(data)
    return b"".join(view[start:end] for start, end in zip(at[::2], at[1::2], strict=True))


def _code(delimiter: str) -> int:
    return ord(delimiter) if delimiter else 0
