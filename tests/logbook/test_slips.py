"""Lab results that cannot be are refused; those that may be slips of the pen are kept, and said."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from pipeline.config.load import Plant
from pipeline.errors import Fault
from pipeline.logbook.book import read_logbook
from pipeline.logbook.slips import Slips
from pipeline.run import Outcome
from pipeline.say import DONE, say_reports

MakePlant = Callable[..., Plant]
FIRST = datetime(2026, 2, 9, tzinfo=UTC)
NOW = datetime(2026, 11, 16, 15, tzinfo=UTC)


def _bench(plant: Plant, *lines: str) -> None:
    (plant.folder / "lab").mkdir()
    (plant.folder / "lab" / "bench.csv").write_text("\n".join(["tag,time,value,unit", *lines, ""]))


def _slips(plant: Plant, first: datetime | None) -> list[Fault]:
    slips = Slips(first)
    read_logbook(plant, NOW, slips)
    return slips.found


def test_a_result_of_tomorrow_is_refused(plant: Plant) -> None:
    # 8:00 in Denver is 15:00 UTC; a bench clock an hour ahead may be the summer's.
    _bench(plant, "AIT-2,2026-11-16 08:59,1,", "AIT-2,2026-11-17 08:00,1,", "AIT-2,2036-11-09 08:00,1,")
    book, faults = read_logbook(plant, NOW)
    assert book.grabs.height == 1
    assert [(fault.file, fault.row, fault.column) for fault in faults] == [
        ("lab/bench.csv", 3, "time"),
        ("lab/bench.csv", 4, "time"),
    ]


@pytest.mark.parametrize(
    ("value", "unit", "is_said"),
    [("88", "", True), ("7.4", "", False), ("900", "ppb", False), ("-3", "", True)],
)
def test_a_result_far_outside_the_span_is_kept_and_said(
    plant: Plant, value: str, unit: str, is_said: bool
) -> None:
    """AIT-2's span is 0 to 5 mg/L; a bench reads a little beyond what the instrument can show."""
    _bench(plant, f"AIT-2,2026-11-09 08:00,{value},{unit}")
    found = [(slip.file, slip.row, slip.column) for slip in _slips(plant, FIRST)]
    assert found == ([("lab/bench.csv", 2, "value")] if is_said else [])
    assert read_logbook(plant, NOW)[0].grabs.height == 1


def test_results_from_years_before_the_record_are_said_once_a_file(plant: Plant) -> None:
    _bench(
        plant,
        *(f"AIT-2,{year}-11-09 08:00,1," for year in (2016, 2017, 2025, 2026)),
        "AIT-9,2016-11-09 08:00,1,",
    )
    (slip,) = _slips(plant, FIRST)
    assert (slip.row, slip.column) == (2, "time")
    assert "'2016-11-09 08:00' (and in 1 more row)" in str(slip)
    assert _slips(plant, None) == []


def test_a_doubt_is_told_and_changes_no_exit_status(plant: Plant, capsys: pytest.CaptureFixture[str]) -> None:
    _bench(plant, "AIT-2,2026-11-09 08:00,88,")
    assert say_reports(plant, Outcome(slips=_slips(plant, FIRST)), None) == DONE
    assert (
        "To look at: lab/bench.csv, row 2, column value: 88 mg/L lies far outside" in capsys.readouterr().err
    )
