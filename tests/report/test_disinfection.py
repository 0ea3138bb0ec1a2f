"""Disinfection on the page: days as a monthly form asks for them, the profile, and what is not known."""

import re
from dataclasses import replace
from datetime import timedelta

from pipeline.clock import months_before, months_of
from pipeline.config.disinfection import Segment
from pipeline.report.page import weekly_page
from pipeline.report.sections.disinfection import render
from pipeline.result import Inactivation, PeakHour
from pipeline.week import Week
from tests.report.harrow_fork import PERIOD
from tests.report.weeks import quiet_week

# CT99.9 is 137 at 10 degC, pH 7.5 and 1.2 mg/L (40 CFR 141.74(b)(3)(v)): CT 72 is 1.577 log, and 48 by the
# virus table, of which 4 are reported.
SEGMENT = {
    "name": "clearwell",
    "flow": "FIT-201",
    "residual": "AIT-131",
    "ph": "AIT-132",
    "temperature": "TIT-131",
    "gallons": 100_000,
    "baffling_factor": 0.3,
    "source": "state approval of 2019",
}


def _course(benchmark: bool = True, known: bool = True) -> Inactivation:
    days = [start for start, _ in PERIOD.days]
    peaks = [
        PeakHour(day, day + timedelta(hours=20), 500.0, 1.2, 0.9, 7.5, 10.0, 60.0, 72.0, 1.5766, 4.0)
        for day in days
    ]
    months = [month.start for month in months_before(months_of(PERIOD)[0], 13)][:12]
    hours = [(days[0] + timedelta(hours=k), 1.6 if known and k % 24 > 3 else None) for k in range(168)]
    return Inactivation(
        tuple(hours),
        tuple((day, None if k == 2 or not known else peaks[k]) for k, day in enumerate(days)),
        tuple((start, 1.5 + k / 100 if known else None) for k, start in enumerate(months)),
        (months[3], 1.03) if benchmark else None,
    )


def _week(course: Inactivation) -> Week:
    week = quiet_week()
    file = week.plant.file.model_copy(update={"disinfection_segment": (Segment.model_validate(SEGMENT),)})
    return replace(week, plant=replace(week.plant, file=file), inactivation=course)


def _text(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ")


def test_every_day_with_its_peak_hour() -> None:
    text = _text(render(_week(_course())))
    assert "Mon 9 Nov 20:00 500 1.20 7.50 10.0 60 72.0 1.58 4.00 0.90" in text
    assert "Wed 11 Nov not known" in text


def test_the_flow_is_told_in_the_unit_that_the_plant_keeps() -> None:
    """500 gpm are 113.6 m3/h (3.785411784 L a gallon, NIST SP 811)."""
    week = _week(_course())
    flow = week.plant.tags["FIT-201"].model_copy(update={"unit": "m3/h"})
    plant = replace(week.plant, tags={**week.plant.tags, "FIT-201": flow})
    text = _text(render(replace(week, plant=plant)))
    assert "Flow, m³/h" in text and "gpm" not in text
    assert "Mon 9 Nov 20:00 114 1.20" in text


def test_the_profile_and_its_benchmark() -> None:
    text = _text(render(_week(_course())))
    assert "the benchmark of 40 CFR 141.543: 1.03 log, Feb 2026." in text
    assert "Nov 2025 Dec 2025" in text
    without = _text(render(_week(_course(benchmark=False))))
    assert "A benchmark takes twelve months, and not all of these are known." in without


def test_how_it_was_reckoned_is_said() -> None:
    text = _text(render(_week(_course())))
    assert "clearwell (0.3, state approval of 2019; conservative)" in text
    assert "For review by the licensed operator" in text


def test_of_nothing_known_nothing_is_drawn() -> None:
    text = _text(render(_week(_course(benchmark=False, known=False))))
    assert "No readings to draw." in text
    assert "Disinfection profile" not in text


def test_a_plant_without_segments_is_told_where_they_go() -> None:
    assert "config/plant.toml" in _text(render(quiet_week()))


def test_it_stands_on_the_page() -> None:
    assert 'id="disinfection"' in weekly_page(_week(_course()))
