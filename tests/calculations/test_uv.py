"""UV and flow per head: tables and check values."""

import pytest

from pipeline.calculations import flow_per_head, uv_dose, uv_transmittance
from pipeline.disinfection.uv import DOSES_MJ_CM2, LOGS, credited_logs

# 40 CFR 141.720(d)(1), 2015 edition, typed in from the rule: dose [mJ/cm2] for 0.5, 1 ... 4 log.
PRINTED = {
    "cryptosporidium": "1.6/2.5/3.9/5.8/8.5/12/15/22",
    "giardia": "1.5/2.1/3.0/5.2/7.7/11/15/22",
    "virus": "39/58/79/100/121/143/163/186",
}


@pytest.mark.parametrize("organism", PRINTED)
def test_doses_of_the_rule(organism):
    cells = [float(cell) for cell in PRINTED[organism].split("/")]
    assert list(DOSES_MJ_CM2[organism]) == cells
    for logs, dose in zip((0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4), cells, strict=True):
        assert credited_logs(organism, dose) == logs
        assert credited_logs(organism, dose * 0.999) == max(0, logs - 0.5)
    assert credited_logs(organism, 1e4) == LOGS[-1] == 4


# UVT % = 100 x 10^(-A254 per cm): computed.
@pytest.mark.parametrize(("pct", "absorbance"), [(55, 0.2596), (65, 0.1871), (70, 0.1549), (75, 0.1249)])
def test_transmittance_of_an_absorbance(pct, absorbance):
    # The absorbance is given to four decimals: 0.00005 of it are 0.01 %.
    assert uv_transmittance.calculate(absorbance) == pytest.approx(pct, abs=0.01)


def test_dose_is_intensity_times_time():
    """10 mW/cm2 for 3 s are 30 mJ/cm2 (by the units)."""
    assert uv_dose.calculate(10, 3) == 30


# 40 CFR 35.2005(b)(28) and 35.2120: 120 gallons a person a day, 275 in a storm; 4,500 people, computed.
@pytest.mark.parametrize(("mgd", "gpd"), [(0.540, 120.0), (1.240, 275.6)])
def test_flow_per_head(mgd, gpd):
    assert flow_per_head.calculate(mgd, 4500) == pytest.approx(gpd, abs=0.05)
    assert (flow_per_head.DRY_LIMIT_GPD, flow_per_head.STORM_LIMIT_GPD) == (120, 275)


def test_storm_flow_calls_for_a_study():
    assert flow_per_head.calculate(1.240, 4500) > flow_per_head.STORM_LIMIT_GPD
    assert not flow_per_head.calculate(0.5399, 4500) >= flow_per_head.DRY_LIMIT_GPD
