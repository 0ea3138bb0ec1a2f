"""Picture: thinning keeps what matters, holes stay holes, and both drawings are sound."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.report.axes import time_ticks, value_range, value_ticks
from pipeline.report.charts import as_json, figure
from pipeline.report.picture import Picture, Point, broken, thinned
from pipeline.report.sketch import sketch
from pipeline.report.views import excursion_view, finding_view
from tests.report.weeks import full_week, nasty_week

START = datetime(2026, 11, 9, 7, tzinfo=UTC)
STEP = timedelta(minutes=15)


def pictures() -> list[Picture]:
    made = []
    for week in (full_week(), nasty_week()):
        made += [excursion_view(week, excursion) for excursion in week.excursions]
        made += [finding_view(week, finding) for finding in week.findings]
    drawn = [picture for picture in made if picture is not None]
    assert len(drawn) == len(made)
    return drawn


@given(st.lists(st.none() | st.floats(-1e6, 1e6), min_size=1, max_size=400), st.integers(6, 60))
def test_thinning_keeps_the_extremes_and_the_order(values: list[float | None], most: int) -> None:
    points: tuple[Point, ...] = tuple((START + k * STEP, value) for k, value in enumerate(values))
    kept = thinned(points, most)
    assert len(kept) <= max(most, len(values) if len(values) <= most else 0) + 3
    known = [value for value in values if value is not None]
    if known:
        shown = [value for _, value in kept if value is not None]
        assert (min(shown), max(shown)) == (min(known), max(known))
    assert all(before[0] < after[0] for before, after in pairwise(kept))


def test_a_hole_is_not_bridged() -> None:
    points: list[Point] = [(START, 1.0), (START + STEP, 2.0), (START + 5 * STEP, 3.0)]
    assert [value for _, value in broken(points, STEP)] == [1.0, 2.0, None, 3.0]


@given(st.floats(-1e5, 1e5), st.floats(1e-3, 1e5))
def test_ticks_lie_within_and_are_evenly_spaced(low: float, width: float) -> None:
    ticks = value_ticks(low, low + width)
    values = [value for value, _ in ticks]
    assert 1 <= len(values) <= 6
    assert all(low - 1e-6 * width - 1e-9 <= value <= low + width * 1.000001 + 1e-9 for value in values)
    assert len({text for _, text in ticks}) == len(ticks)


@pytest.mark.parametrize("hours", [1, 6, 30, 168, 24 * 91, 24 * 400])
def test_time_ticks_are_few_and_on_the_clock(hours: int) -> None:
    start = datetime(2026, 11, 9, 3, 20)
    ticks = time_ticks(start, start + timedelta(hours=hours))
    assert len(ticks) <= 7
    assert all(tick.minute == 0 for tick, _ in ticks)


def test_a_flat_record_still_has_an_axis() -> None:
    low, high = value_range([7.64, 7.64])
    assert low < 7.64 < high


def test_sketches_are_well_formed() -> None:
    for picture in pictures():
        root = ElementTree.fromstring(sketch(picture))
        assert root.tag == "svg"
        assert "nan" not in sketch(picture).lower()


def test_figures_are_what_plotly_takes() -> None:
    from plotly.graph_objects import Figure

    for picture in pictures():
        # Raises on any property that plotly does not know.
        Figure(figure(picture), skip_invalid=False)


def test_figures_cannot_end_their_script_element() -> None:
    for picture in pictures():
        assert "<" not in as_json(figure(picture))


def test_the_limit_and_the_record_are_in_the_picture() -> None:
    week = full_week()
    excursion = next(found for found in week.excursions if found.limit.limit_id == "IFE-123")
    picture = excursion_view(week, excursion)
    assert picture is not None
    assert [rule.value for rule in picture.rules] == [0.3]
    assert picture.start < excursion.start
    assert excursion.end < picture.end
    assert max(value for _, value in picture.curves[0].points if value is not None) > 0.3


def test_a_days_statistic_is_drawn_by_days() -> None:
    week = full_week()
    excursion = next(found for found in week.excursions if found.limit.limit_id == "EFF-FLOW")
    picture = excursion_view(week, excursion)
    assert picture is not None
    assert [value for _, value in picture.curves[0].points] == [0.5, 0.5, 0.5, 1.4, 0.5, 0.5, 0.5]


def test_a_drift_against_grabs_shows_sensor_less_grab() -> None:
    week = full_week()
    picture = finding_view(week, week.findings[0])
    assert picture is not None
    (band,) = picture.bands
    assert (band.low, band.high) == (-0.165, 0.165)
    last = picture.curves[0].points[-1][1]
    assert last is not None
    assert last < -0.165
    assert "grab" in picture.title


def test_a_frozen_reading_is_drawn_as_recorded_but_not_counted() -> None:
    week = full_week()
    picture = finding_view(week, week.findings[1])
    assert picture is not None
    aside = next(curve for curve in picture.curves if curve.look == "aside")
    assert {value for _, value in aside.points} == {7.64}
