"""Lock: one writer at a time; a killed writer's lock is free at once."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.errors import BusyError


@contextmanager
def writing(archive: Path) -> Iterator[None]:
    """Hold the archive while it is written.

    Raises
    ------
    BusyError
        Another run holds it.
    """
    from filelock import FileLock, Timeout

    archive.mkdir(parents=True, exist_ok=True)
    lock = FileLock(archive / ".lock")
    try:
        lock.acquire(timeout=0)
    except Timeout as error:
        raise BusyError(
            f"{archive}: another run is writing this archive; wait until it has finished and run this again"
        ) from error
    try:
        yield
    finally:
        lock.release()
