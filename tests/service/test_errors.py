"""Fouling and calibration drift kept apart, as records of continuous monitors do.

Formulas: Wagner, Boulger, Oblinger and Smith (2006), USGS Techniques and Methods 1-D3, from memory: check.
The numbers of the examples are worked by hand from them.
"""

import pytest

from pipeline.service.errors import calibration_drift, fouling, percent

# 500 before and 520 after cleaning while a second meter went from 510 to 512 uS/cm; the clean sensor reads a
# standard of 1000 as 985: 20 - 2 = 18, and 1000 - 985 = 15.
CONDUCTANCE = (500.0, 520.0, 510.0, 512.0)
# 7.65 before and 7.58 after while the second meter went from 7.60 to 7.58; buffer 7.00 reads 7.12.
PH = (7.65, 7.58, 7.60, 7.58)


def test_conductance() -> None:
    fouled, drifted = fouling(*CONDUCTANCE), calibration_drift(1000.0, 985.0)
    assert (fouled, drifted) == (18.0, 15.0)
    shares = percent(fouled, 500.0), percent(drifted, 985.0)
    assert shares == pytest.approx((3.60, 1.523), abs=0.0005)  # printed to so many digits
    assert sum(shares) == pytest.approx(5.12, abs=0.005)


def test_ph() -> None:
    fouled, drifted = fouling(*PH), calibration_drift(7.00, 7.12)
    assert (fouled, drifted) == pytest.approx((-0.05, -0.12), abs=1e-9)
    # Together less than the 0.2 from which on such records are corrected.
    assert abs(fouled) + abs(drifted) == pytest.approx(0.17, abs=1e-9)


def test_without_a_second_meter_the_water_is_taken_as_steady() -> None:
    assert fouling(500.0, 520.0) == 20.0


def test_water_that_changed_while_a_clean_sensor_was_wiped_is_no_fouling() -> None:
    assert fouling(500.0, 512.0, 510.0, 522.0) == 0.0
