"""Progress: one line on a terminal while long work goes on; nothing at all anywhere else."""

from collections.abc import Callable
from time import perf_counter
from typing import TextIO

_EVERY_SECONDS = 0.1
_AFTER_SECONDS = 0.5
_WIDTH = 24


class Progress:
    """A bar with readings a second, drawn over itself.

    Parameters
    ----------
    stream : text stream
        Where to; only a terminal is written to, so that logs and pipes stay clean.
    what : str
        The work, for instance ``Reading exports``.
    seconds : callable, optional
        A clock that only runs forwards.
    """

    def __init__(self, stream: TextIO, what: str, seconds: Callable[[], float] = perf_counter) -> None:
        self._stream, self._what, self._seconds = stream, what, seconds
        self._shown = stream.isatty()
        self._begun = seconds()
        self._drawn_at: float | None = None
        self._length = 0

    def __enter__(self) -> "Progress":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def __call__(self, done: int, total: int, readings: int) -> None:
        """Draw the line anew, at most ten times a second, and not at all for what is over at once.

        Parameters
        ----------
        done, total : int
            Bytes.
        readings : int
            So far.
        """
        now = self._seconds()
        early = now - self._begun < _AFTER_SECONDS
        just_drawn = self._drawn_at is not None and now - self._drawn_at < _EVERY_SECONDS
        if not self._shown or early or just_drawn:
            return
        self._drawn_at = now
        self._draw(line(self._what, done, total, readings, now - self._begun))

    def close(self) -> None:
        """Wipe the line: what follows starts on a clean one."""
        if self._length:
            self._stream.write("\r" + " " * self._length + "\r")
            self._stream.flush()
            self._length = 0

    def _draw(self, text: str) -> None:
        self._stream.write("\r" + text.ljust(self._length))
        self._stream.flush()
        self._length = len(text)


def line(what: str, done: int, total: int, readings: int, seconds: float) -> str:
    """Return the line: the bar, the share of bytes done [%], readings and readings a second."""
    part = min(done / total, 1.0) if total else 1.0
    full = round(part * _WIDTH)
    bar = "#" * full + "." * (_WIDTH - full)
    rate = readings / seconds if seconds > 0 else 0.0
    return f"{what} [{bar}] {part:4.0%}  {readings:,} readings, {rate:,.0f}/s"
