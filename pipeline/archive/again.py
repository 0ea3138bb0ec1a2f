"""Again: what a delivery says twice of one tag and time, with other values; the last of its lines stands."""

from pathlib import Path

import polars as pl

from pipeline.archive.ledger import Delivery
from pipeline.archive.parquet import read_readings
from pipeline.archive.paths import SUPERSEDED

_FEWEST = 3
"""One or two may be slips."""


def said_again(archive: Path, delivery: Delivery) -> list[str]:
    """Return what to tell of readings of a delivery that its own later lines displaced; empty where few."""
    if delivery.superseded < _FEWEST:
        return []
    folder = archive / SUPERSEDED / delivery.source
    own = pl.concat(
        read_readings(path).filter(pl.col("source") == delivery.source).select("tag", "time")
        for path in sorted(folder.glob("*.parquet"))
    )
    if own.height < _FEWEST:
        return []
    tags = own["tag"].cast(pl.String).unique().sort()
    shown = ", ".join(tags[:3]) + (" …" if len(tags) > 3 else "")
    return [
        f"{own.height:,} of its readings ({shown}) stand in it again at the same time, with another value; "
        f"the last line holds, the others are kept in {archive.name}/{SUPERSEDED}/{delivery.source}; if they "
        "are several series, export each under a tag of its own"
    ]
