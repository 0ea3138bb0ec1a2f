"""Month percentile: the three rules for reading between two values, against the handbook's example."""

from datetime import date

import numpy as np
import pytest

from pipeline.limits.month_percentile import percentile

# NIST/SEMATECH e-Handbook 7.2.6.2: twelve resistivities of wafers, 90th percentile 95.1981 by the (n + 1)
# rule.
WAFERS = [
    95.1772,
    95.1567,
    95.1937,
    95.1959,
    95.1442,
    95.0610,
    95.1591,
    95.1195,
    95.1065,
    95.0925,
    95.1990,
    95.1682,
]


@pytest.mark.parametrize(("rule", "value"), [("R6", 95.1981), ("R7", 95.1957), ("R8", 95.1972)])
def test_wafers_of_the_handbook(rule, value):
    assert percentile(np.array(WAFERS), 90, rule) == pytest.approx(value, abs=5e-5)


def test_a_month_of_readings(month, judged):
    first, last = date(2026, 6, 1), date(2026, 6, 30)
    data = month(first, last)
    found = judged(
        "month_percentile", data.frame(), first, last, high=0.3, percentile=95, percentile_rule="R7"
    )
    assert found.value == pytest.approx(np.quantile(data.value, 0.95), rel=1e-12)
    assert found.rule == "at the 95th percentile (R7)"
    half = np.arange(len(data.times)) < 96 * 20
    found = judged("month_percentile", data.frame(good=half), first, last, high=0.3, percentile=95)
    assert found.status == "not assessable"
