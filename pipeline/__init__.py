"""Stillwell: trend exports in, a weekly report of excursions and doubtful instruments out."""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.opened import Opened

__version__ = "0.1.0"


def open_plant(folder: "str | Path") -> "Opened":
    """Open the plant in a folder for a notebook or a script (see `pipeline.opened`).

    Parameters
    ----------
    folder : str or Path
        The plant's: it holds ``config/`` and ``archive/``.
    """
    # Here, so that a bare ``import pipeline`` stays light.
    from pipeline.opened import Opened
    from pipeline.run import load_plant

    return Opened(load_plant(Path(folder)))
