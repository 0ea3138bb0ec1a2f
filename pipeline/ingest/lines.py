"""Lines: where the lines of a text lie, and which of them have as many cells as the header."""

from dataclasses import dataclass

import numpy as np

QUOTE = b'"'
_WINDOW_BYTES = 2**18
"""What is looked through for blanks at a time: fits in a processor's cache."""


@dataclass(frozen=True)
class Shape:
    """How many delimiters and lines a text has, and whether surely no cell begins or ends with a blank."""

    marks: int
    count: int
    tidy: bool


@dataclass(frozen=True)
class Lines:
    """Where each line of a text starts, and how many delimiters it has; -1 where it has quotes."""

    starts: np.ndarray
    marks: np.ndarray


def shape_of(data: bytes, delimiter: str) -> Shape:
    """Look through whole lines, the last of which may lack its end."""
    text = np.frombuffer(data, np.uint8)
    mark = _code(delimiter)
    marks, tidy = 0, data.isascii() and not data[:1].isspace() and not data[-1:].strip(b"\n").isspace()
    for start in range(0, len(text), _WINDOW_BYTES):
        window = text[start : start + _WINDOW_BYTES + 1]
        edge = window == mark
        marks += int(np.count_nonzero(edge[:_WINDOW_BYTES]))
        if tidy:
            edge |= window == ord("\n")
            blank = (window <= ord(" ")) & ~edge
            tidy = not ((blank[1:] & edge[:-1]) | (blank[:-1] & edge[1:])).any()
    return Shape(marks, line_ends(data) + (not data.endswith(b"\n")), tidy)


def line_ends(data: bytes | memoryview) -> int:
    """Count the line ends."""
    return int(np.count_nonzero(np.frombuffer(data, np.uint8) == ord("\n")))


def edges_of(data: bytes, delimiter: str) -> np.ndarray:
    """Return where the delimiters and the line ends are."""
    text = np.frombuffer(data, np.uint8)
    return np.flatnonzero((text == _code(delimiter)) | (text == ord("\n")))


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
