"""Gather: a case knows the tolerance its instrument is judged by, also where the plant names none."""

from collections.abc import Callable
from datetime import UTC, datetime

from pipeline.config.load import Plant
from pipeline.gather import gather
from pipeline.logbook.book import read_logbook


def test_an_instrument_without_a_tolerance_is_judged_by_the_default(make_plant: Callable[..., Plant]) -> None:
    """AE-1 is a turbidimeter of which instruments.csv says no more than where it stands."""
    readings = "Time,Filter turbidity\n2026-11-09 00:00,0.05\n2026-11-09 00:15,0.06\n"
    plant = make_plant(week=readings)
    case = gather(plant, read_logbook(plant)[0], datetime(2026, 11, 16, tzinfo=UTC))["AIT-1"]
    assert plant.instruments["AE-1"].tolerance is None
    # EPA turbidity guidance, from memory: 10 %; at least 0.02 NTU by common practice.
    assert case.tolerance_at(1.0) == 0.1
    assert case.tolerance_at(0.05) == 0.02
    assert case.instrument is not None
    assert case.instrument.tolerance_source.startswith("default, the plant names none")
