"""Page: a dossier says what is known, loads nothing, loses no extreme, and advises nobody."""

import re
from dataclasses import replace
from datetime import datetime, timedelta
from html import unescape

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock import week_named
from pipeline.investigate import happened, look_into
from pipeline.report.dossier import dossier, raw_values
from pipeline.report.dossier_views import lanes_view, tag_view
from pipeline.report.picture import thinned
from tests.upsets import scenes
from tests.upsets.scenes import WEEK, staged

MOST_BYTES = 8_000_000


@pytest.fixture(scope="module")
def inquiry():
    scene = staged(scenes.main_break)
    period = week_named(WEEK, scene.plant.zone)
    (upset,) = happened(scene, period)
    return look_into(scene, upset, ())


@pytest.fixture(scope="module")
def page(inquiry):
    return dossier("Harrow Fork", inquiry, "../weekly.html")


def words(page):
    return " ".join(unescape(re.sub(r"<(script|style)[^>]*>.*?</\1>|<[^>]+>", " ", page, flags=re.S)).split())


def test_it_is_one_file_that_loads_nothing(page):
    assert len(page.encode()) <= MOST_BYTES
    assert not re.search(r"<(?:script|img|link|iframe)[^>]+(?:src|href)=", page)
    assert "default-src 'none'" in page


def test_it_tells_all_that_the_engineer_asks(inquiry, page):
    text = words(page)
    for heading in (
        "What happened",
        "Who moved when",
        "The record",
        "Limits touched",
        "Has it happened before?",
    ):
        assert heading in text
    for mover in inquiry.order.movers:
        assert mover.tag in text
    assert "Bench tank low level" in text
    assert "Order is evidence, not cause" in text
    assert "possible exceedance" in text.lower() and "for review" in text


def test_it_is_the_same_every_time(inquiry, page):
    assert dossier("Harrow Fork", inquiry, "../weekly.html") == page


def test_all_charts_show_the_same_stretch_and_are_linked(inquiry, page):
    views = [tag_view(inquiry, tag) for tag in inquiry.usual]
    assert {(view.start, view.end) for view in views} == {(inquiry.start, inquiry.end)}
    assert all(view.linked for view in [*views, lanes_view(inquiry)])
    assert page.count(" data-linked") == len(views) + 1


def test_each_chart_has_its_usual_course_its_limit_and_its_beginning(inquiry):
    level = tag_view(inquiry, "LIT-301")
    assert level.envelope is not None
    assert [rule.value for rule in level.rules] == [18.0]
    (mark,) = level.marks
    assert mark.time == inquiry.order.mover("LIT-301").onset


def test_a_quiet_hour_lies_within_the_usual_course(inquiry):
    """Two sds hold about nineteen readings in twenty; half is asked of the hours before."""
    usual = inquiry.usual["PIT-301"].filter(pl.col("time") < inquiry.upset.start - timedelta(hours=1))
    both = inquiry.cases["PIT-301"].readings.join(usual, on="time")
    inside = ((both["value"] >= both["low"]) & (both["value"] <= both["high"])).mean()
    assert inside > 0.5


def test_the_readings_beside_it_are_the_record_s(inquiry):
    wide = pl.read_csv(raw_values(inquiry).encode(), try_parse_dates=False)
    stamps = [datetime.fromisoformat(text) for text in wide["time"]]
    assert stamps == sorted(stamps)
    inside = pl.col("time").is_between(inquiry.start, inquiry.end) & pl.col("good")
    for tag in ("PIT-301", "LIT-302", "YS-132"):
        rows = inquiry.cases[tag].readings.filter(inside)
        told = [(at, value) for at, value in zip(stamps, wide[tag], strict=True) if value is not None]
        assert told == rows.select("time", "value").rows()


def test_a_name_typed_into_the_config_cannot_run(inquiry):
    nasty = "<script>alert(1)</script>"
    case = inquiry.cases["PIT-301"]
    tag = case.tag.model_copy(update={"description": nasty})
    spoilt = replace(inquiry, cases={**inquiry.cases, "PIT-301": replace(case, tag=tag)})
    assert nasty not in dossier(nasty, spoilt)


@given(st.integers(0, 100_000), st.integers(10, 200))
def test_thinning_keeps_the_extremes_of_every_share(seed, most):
    """The lowest and the highest of the whole and of every share: none is lost at any zoom that shows it."""
    random = np.random.default_rng(seed)
    values = random.normal(0, 1, random.integers(1, 3000)).tolist()
    values = [None if random.random() < 0.1 else value for value in values]
    begin = datetime(2026, 1, 1)
    points = tuple((begin + k * timedelta(minutes=1), value) for k, value in enumerate(values))
    kept = thinned(points, most)
    assert set(kept) <= set(points)
    assert len(kept) <= most + 3 or len(points) <= most
    share = -(-len(points) * 3 // most) if len(points) > most else 1
    for first in range(0, len(points), share):
        part = points[first : first + share]
        known = [value for _, value in part if value is not None]
        left = [value for time, value in kept if part[0][0] <= time <= part[-1][0] and value is not None]
        if known:
            assert min(left) == min(known) and max(left) == max(known)
