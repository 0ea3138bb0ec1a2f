"""Slabs: an export handed on a few megabytes of whole lines at a time, so that its length costs no memory."""

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from os import SEEK_CUR
from typing import BinaryIO, TypeVar

from pipeline.ingest.lines import line_ends
from pipeline.ingest.utf16 import START, utf16_of

Item = TypeVar("Item")
Made = TypeVar("Made")

SLAB_BYTES = 8 * 2**20
"""Long enough that each step works on many cells at once, short enough to hold several copies."""

_WORKERS = 2
"""Slabs worked on side by side: more would wait for each other in memory."""


@dataclass(frozen=True)
class Slab:
    """Some lines of a file.

    Parameters
    ----------
    data : bytes
        As in the file; ends at a line end unless it is the last.
    first_line : int
        Line of the file at which it starts, from 1.
    is_last : bool
    """

    data: bytes
    first_line: int
    is_last: bool


def slabs_of(stream: BinaryIO, whole: bool, size: int | None = None) -> Iterator[Slab]:
    """Cut a file at line ends.

    Parameters
    ----------
    stream : binary file
        Read from where it stands.
    whole : bool
        Hand on the file in one piece. So are UTF-16 text, whose line ends are two bytes, and text that
        ends its lines with CR alone.
    size : int, optional
        About how many bytes a slab has; by default SLAB_BYTES.
    """
    start, size = stream.tell(), size or SLAB_BYTES
    whole = whole or utf16_of(stream.read(START)) is not None
    stream.seek(start)
    line, is_last = 1, False
    while not is_last:
        # Exactly what is handed on is read: to cut it, or put it together, would copy it.
        data = stream.read(-1 if whole else _whole_lines(stream, size))
        is_last = not stream.read(1)
        yield Slab(data, line, is_last)
        if not is_last:
            stream.seek(-1, SEEK_CUR)
            line += line_ends(data)


def _whole_lines(stream: BinaryIO, size: int) -> int:
    """Return how many bytes it is to the end of the line that is `size` bytes ahead."""
    here = stream.tell()
    stream.seek(size - 1, SEEK_CUR)
    stream.readline()
    there = stream.tell()
    stream.seek(here)
    return there - here


@contextmanager
def ahead(items: Iterator[Item], work: Callable[[Item], Made]) -> Iterator[Iterator[Made]]:
    """Work on the items that follow while one is used; nothing is being worked on after the block."""
    workers = ThreadPoolExecutor(_WORKERS)
    try:
        yield _in_turn(_begun(items, work, workers))
    finally:
        workers.shutdown(cancel_futures=True)


@contextmanager
def behind(work: Callable[[Item], None]) -> Iterator[Callable[[Item], None]]:
    """Work on one item after the other while the next is made ready; all is done after the block."""
    with ThreadPoolExecutor(1) as worker:
        last: Future[None] | None = None

        def hand_on(item: Item) -> None:
            nonlocal last
            if last:
                last.result()
            last = worker.submit(work, item)

        yield hand_on
        if last:
            last.result()


def _begun(
    items: Iterator[Item], work: Callable[[Item], Made], workers: ThreadPoolExecutor
) -> Iterator[Future[Made]]:
    try:
        for item in items:
            yield workers.submit(work, item)
    except Exception as error:
        failed: Future[Made] = Future()
        failed.set_exception(error)
        yield failed


def _in_turn(begun: Iterator[Future[Made]]) -> Iterator[Made]:
    under_way: deque[Future[Made]] = deque()
    for one in begun:
        under_way.append(one)
        if len(under_way) > _WORKERS:
            yield under_way.popleft().result()
    while under_way:
        yield under_way.popleft().result()
