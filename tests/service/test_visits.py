"""Visits: lines of the log put together, with the error found, the error left and its two parts."""

import polars as pl
import pytest

from pipeline.service.visits import visits
from pipeline.table import CALIBRATIONS


@pytest.fixture
def seen(make):
    """Return the visits of a log, given as rows of ``time, kind`` and numbers, in another tag if wanted."""

    def run(*rows, tolerance=0.2, pct=None, **tag):
        log = pl.DataFrame([{"instrument": "AE-101", **row} for row in rows], schema=CALIBRATIONS)
        device = make.instrument(tolerance=tolerance, tolerance_pct=pct)
        frame = make.frame(make.grid(make.local(2026, 11, 9), 1), [7.0] * 96)
        case = make.case(frame, tag=make.tag(**tag), instrument=device, services=log)
        return visits(case)

    return run


def test_as_found_less_reference_is_the_error_found(seen, make):
    row = {"time": make.local(2026, 11, 2), "kind": "calibration"}
    (visit,) = seen({**row, "as_found": 7.3, "as_left": 7.01, "reference": 7.0})
    assert visit.found.amount == pytest.approx(0.3)
    assert visit.found.share == pytest.approx(1.5)  # of 0.2 pH
    assert visit.left.amount == pytest.approx(0.01)
    assert visit.fouling is visit.drift is None, "one reading cannot tell them apart"
    assert visit.restarts


def test_one_line_with_the_clean_reading_tells_fouling_from_drift(seen, make):
    """As found 7.65, cleaned 7.58; the grab beside it said 7.60 and then 7.50."""
    row = {"time": make.local(2026, 11, 2), "kind": "calibration", "as_found": 7.65, "cleaned": 7.58}
    (visit,) = seen({**row, "as_left": 7.50, "reference": 7.60, "reference_after": 7.50})
    # Went with cleaning: 0.07, of which the water itself moved 0.10 the same way.
    assert visit.fouling.amount == pytest.approx(-0.03)
    assert visit.drift.amount == pytest.approx(0.08)
    # Both together are what as found less reference says directly: 7.65 - 7.60.
    assert visit.found.amount == pytest.approx(0.05)
    assert visit.left.amount == pytest.approx(0.0)


def test_cleaned_in_the_water_then_calibrated_in_a_buffer_is_one_visit(seen, make):
    """The worked example of pH: fouling correction -0.05, calibration drift -0.12 (see test_errors)."""
    water = {"as_found": 7.65, "as_left": 7.58, "reference": 7.60, "reference_after": 7.58}
    buffer = {"as_found": 7.12, "as_left": 7.00, "reference": 7.00}
    (visit,) = seen(
        {"time": make.local(2026, 11, 2, 10), "kind": "cleaning", **water},
        {"time": make.local(2026, 11, 2, 10, 30), "kind": "calibration", **buffer},
    )
    assert visit.kinds == ("cleaning", "calibration")
    # An error is minus its correction.
    assert visit.fouling.amount == pytest.approx(0.05)
    assert visit.drift.amount == pytest.approx(0.12)
    assert visit.found.amount == pytest.approx(0.17)
    assert visit.left.amount == pytest.approx(0.0)


def test_parts_found_at_different_strengths_add_up_as_shares(seen, make):
    """The worked example of conductance: 3.60 % and 1.52 % (of 1000, 1.5 %) against 3 % allowed."""
    water = {"as_found": 500.0, "as_left": 520.0, "reference": 510.0, "reference_after": 512.0}
    standard = {"as_found": 985.0, "as_left": 1000.0, "reference": 1000.0}
    (visit,) = seen(
        {"time": make.local(2026, 11, 2, 10), "kind": "cleaning", **water},
        {"time": make.local(2026, 11, 2, 11), "kind": "calibration", **standard},
        tolerance=5.0,
        pct=3.0,
        measures="conductivity",
        unit="uS/cm",
        low=0,
        high=2000,
    )
    assert visit.fouling.share == pytest.approx(-18 / 15)
    assert visit.drift.share == pytest.approx(-15 / 30)
    assert visit.found.share == pytest.approx(-5.1 / 3)


def test_a_day_apart_is_two_visits_and_a_check_restarts_nothing(seen, make):
    rows = [{"time": make.local(2026, 11, day), "kind": "check", "as_found": 7.1} for day in (2, 3)]
    found = seen(*rows)
    assert len(found) == 2
    assert not any(visit.restarts for visit in found)
    assert all(visit.found is None for visit in found), "no reference, no error"


def test_without_a_tolerance_there_is_an_amount_and_no_share(seen, make):
    row = {"time": make.local(2026, 11, 2), "kind": "calibration", "as_found": 7.3, "reference": 7.0}
    (visit,) = seen(row, tolerance=None)
    assert visit.found.amount == pytest.approx(0.3)
    assert visit.found.share is None
