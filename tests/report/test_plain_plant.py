"""A plain plant: what an operator knows by heart reads within, with wide margins, on the page."""

import re
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.case import Case
from pipeline.config.load import Plant
from pipeline.config.plant import PlantFile
from pipeline.disinfection.giardia import required_ct
from pipeline.judge import judge, settings_of
from pipeline.report.page import weekly_page
from pipeline.report.verdict import judge as verdict_of
from pipeline.table import VERDICTS
from pipeline.units import conversion
from pipeline.week import Week
from tests.conftest import Make
from tests.report.harrow_fork import PERIOD

# What it measures, unit, usual value, how much that moves: all of it common practice, no source. Treated pH
# near 7.2; chlorine at the plant run below 1 mg/L; a river of 55 degF in autumn; 254 ft of head at the town.
TAGS = {
    "AIT-132": ("ph", "pH", 7.2, 0.03),
    "AIT-131": ("chlorine", "mg/L", 0.8, 0.03),
    "AIT-130": ("turbidity", "NTU", 0.05, 0.003),
    "TIT-131": ("temperature", "degF", 55.0, 0.3),
    "PIT-301": ("pressure", "psi", 110.0, 1.0),
    "FIT-131": ("flow", "gpm", 500.0, 10.0),
    "LIT-131": ("level", "ft", 10.0, 0.2),
}
LIMITS = (
    ("PH", "AIT-132", "instantaneous", {"low": 6.5, "high": 8.5}),  # 40 CFR 143.3
    ("CL-LEAST", "AIT-131", "instantaneous", {"low": 0.2}),  # 40 CFR 141.72(b)(2)
    ("CL-4H", "AIT-131", "longest_excursion", {"low": 0.2, "allow": 240}),
    ("CL-MOST", "AIT-131", "month_mean", {"high": 4.0}),  # 40 CFR 141.65(a)
    ("CFE", "AIT-130", "instantaneous", {"high": 1.0}),  # 40 CFR 141.551(b)
    ("CFE-95", "AIT-130", "month_share_four_hourly", {"high": 0.3, "allow": 95}),  # 40 CFR 141.551(a)
    ("PRESSURE", "PIT-301", "instantaneous", {"low": 35.0}),  # the town's own
    ("GIARDIA", "AIT-131", "giardia_inactivation", {"low": 0.5}),
    ("VIRUS", "AIT-131", "virus_inactivation", {"low": 2.0}),
)
SEGMENT = {
    **{
        "name": "clearwell",
        "flow": "FIT-131",
        "residual": "AIT-131",
        "ph": "AIT-132",
        "temperature": "TIT-131",
    },
    **{"level": "LIT-131", "gallons_per_foot": 10_000, "baffling_factor": 0.3, "source": "state approval"},
    "method": "interpolated",
}


def _cases() -> dict[str, Case]:
    random = np.random.default_rng(7)
    start = PERIOD.start - timedelta(days=120)
    times = Make.grid(start, (PERIOD.end - start) / timedelta(days=1))
    cases = {}
    for row, (name, (measures, unit, usual, moves)) in enumerate(TAGS.items(), start=2):
        given = {"row": row, "tag": name, "measures": measures, "unit": unit, "instrument": ""}
        tag = Make.tag(**given, low=None, high=None, resolution=None)
        value = usual + Make.noise(random, len(times), 0.9, moves)
        cases[name] = Make.case(Make.frame(times, value), tag=tag)
    return cases


@pytest.fixture(scope="module")
def week() -> Week:
    cases = _cases()
    area = {"id": "plant", "name": "Plant", "plant": "water"}
    content = {"name": "P", "time_zone": "America/Denver", "area": [area], "disinfection_segment": [SEGMENT]}
    limits = {
        name: Make.limit(limit_id=name, tag=tag, statistic=statistic, unit="", **numbers)
        for name, tag, statistic, numbers in LIMITS
    }
    tags = {name: case.tag for name, case in cases.items()}
    plant = Plant(Path(), PlantFile.model_validate(content), tags, {}, limits)
    return judge(plant, PERIOD, cases, settings_of(plant), pl.DataFrame(schema=VERDICTS))


def test_every_limit_reads_within(week: Week) -> None:
    assert {one.limit.limit_id: one.status for one in week.limits} == dict.fromkeys(
        [name for name, *_ in LIMITS], "within"
    )
    assert week.excursions == ()


def test_margins_are_wide(week: Week) -> None:
    """Half of what the number allows, or more; of a band, a quarter."""
    for one in week.limits:
        edges = [edge for edge in (one.low, one.high) if edge is not None]
        width = max(edges) - min(edges) if len(edges) == 2 else abs(edges[0])
        assert one.value is not None
        least = 0.25 if len(edges) == 2 else (0.05 if one.unit == "%" else 0.45)
        assert min(abs(one.value - edge) for edge in edges) >= least * width, one.limit.limit_id


def test_chlorine_is_far_below_four(week: Week) -> None:
    mean = next(one for one in week.limits if one.limit.limit_id == "CL-MOST")
    assert mean.value is not None
    assert mean.value < 1


def test_a_river_of_55_degf_lies_between_the_tables_of_10_and_15_degc(week: Week) -> None:
    """12.8 degC: the interpolated CT99.9 lies between those two tables' (40 CFR 141.74(b)(3)(v))."""
    factor, offset = conversion("degF", "degC")
    degc = 55 * factor + offset
    assert degc == pytest.approx(12.8, abs=0.03)
    warm, cold, here = required_ct([15.0, 10.0, degc], 7.2, 0.8, "interpolated")
    assert warm < here < cold
    assert week.inactivation is not None
    (_, peak), *_ = week.inactivation.days
    assert peak is not None
    assert 12.0 < peak.temperature_degc < 13.0
    # Contact time at the lowest level and highest flow of the hour: 10 ft x 10,000 gal / 500 gpm x 0.3.
    assert peak.contact_minutes == pytest.approx(60, rel=0.1)
    assert peak.giardia == pytest.approx(3 * 60 * 0.8 / here, rel=0.2)


def test_the_page_says_so(week: Week) -> None:
    verdict = verdict_of(week)
    assert (verdict.counts["within"], verdict.counts["outside"], verdict.counts["near"]) == (
        len(LIMITS),
        0,
        0,
    )
    page = weekly_page(week)
    rows = re.findall(r'<tr id="limit-.*?</tr>', page, re.S)
    assert len(rows) == len(LIMITS)
    assert all("Within" in row for row in rows)
    assert "Nothing beyond the routine" in page
