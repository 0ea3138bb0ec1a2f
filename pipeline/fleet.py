"""Fleet: the weekly run of many plants, each in a process of its own, so that none can spoil another's."""

import subprocess
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Ran:
    """How the run of one plant ended.

    Parameters
    ----------
    folder : Path
        The plant's.
    status : int
        The command's exit status; negative where the system stopped it.
    said, complained : str
        What it wrote, and what it wrote of faults.
    """

    folder: Path
    status: int
    said: str
    complained: str


def run_fleet(
    folders: Sequence[Path], words: Sequence[str], workers: int, tell: Callable[[Ran], None]
) -> list[Ran]:
    """Call ``stillwell --plant FOLDER run WORDS…`` for each folder, so many at a time.

    Parameters
    ----------
    folders : sequence of Path
    words : sequence of str
        More options of `run`.
    workers : int
    tell : callable
        Is given each as soon as it and those before it are done.

    Returns
    -------
    list of Ran
        In the order of the folders.
    """
    done: list[Ran] = []
    with ThreadPoolExecutor(workers) as pool:
        for ran in pool.map(lambda folder: _run(folder, words), folders):
            tell(ran)
            done.append(ran)
    return done


def _run(folder: Path, words: Sequence[str]) -> Ran:
    command = [sys.executable, "-m", "pipeline.cli", "--plant", str(folder), "run", *words]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", errors="replace", check=False)
    return Ran(folder, done.returncode, done.stdout, done.stderr)
