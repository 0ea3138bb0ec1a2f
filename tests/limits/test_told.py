"""Told: how a month so far, a share, a count and a rounded value stand on the page and in the tables."""

import csv
from dataclasses import replace
from datetime import date
from io import StringIO

import numpy as np
import pytest

from pipeline.clock import week_named
from pipeline.logbook import lab
from pipeline.report.needs import needs
from pipeline.report.sections import limits as section
from pipeline.report.tables import tables
from pipeline.report.verdict import judge as verdict_of
from pipeline.result import Trend
from tests.report.weeks import quiet_week

FIRST, LAST = date(2026, 11, 9), date(2026, 11, 15)


@pytest.fixture(scope="module")
def page(make, month, judged):
    """A quiet week of Harrow Fork with one result put in the place of its first limit's."""

    def told(statistic, change=None, edit=None, **limit):
        data = month(date(2026, 10, 1), LAST)
        if change:
            change(data.value)
        week = quiet_week()
        first = week.limits[0].limit
        given = {"limit_id": first.limit_id, "unit": "NTU", **limit}
        found = judged(statistic, data.frame(), FIRST, LAST, **given)
        found = replace(found, unit="NTU") if found.bounds is None else found
        found = replace(found, limit=found.limit.model_copy(update={"tag": first.tag}))
        found = edit(found) if edit else found
        week = replace(week, limits=(found, *week.limits[1:]), period=week_named("2026-W46", make.zone))
        return week, " ".join(str(section.render(week)).split())

    return told


def test_a_share_so_far(page):
    week, text = page("month_share_four_hourly", high=0.3, allow=95)
    for words in ("at least 95 %", "of 4-hourly values at most 0.3 NTU", "Within, so far"):
        assert words in text
    assert "Nov 2026; 0 of 90 4-hourly values outside" in text
    (row,) = [
        r for r in csv.DictReader(StringIO(tables(week)["limits.csv"])) if r["statistic"] != "instantaneous"
    ][:1]
    assert (row["value"], row["limit_low"], row["limit_high"], row["unit"]) == ("100", "95", "", "%")
    assert row["period_start"] == "2026-11-01T00:00:00-06:00"
    assert row["period_end"] == "2026-11-16T00:00:00-07:00"


def test_a_share_outside_asks_whether_it_was_reported(page):
    def spoil(values):
        values[: 31 * 96 : 16] = 0.9
        values[-5 * 96 :: 4] = 0.9

    notice = "the state, by the end of the next business day"
    week, text = page("month_share_four_hourly", spoil, high=0.3, allow=95, notice=notice)
    assert "Outside, for review, so far" in text
    need = needs(week)[0]
    assert need.ask == "Possible exceedance, for review: already reported?"
    assert "below 95" in need.text and "of 4-hourly values at most 0.3 NTU" in need.text
    assert need.detail == f"Who may have to be told: {notice}."
    assert "violation" not in f"{text} {need}".lower()
    assert verdict_of(week).word == "For review"


def test_raw_beside_rounded(page):
    def once(values):
        values[-300] = 0.34

    _, text = page("instantaneous", once, high=0.3, rounding=1)
    assert "before rounding 0.340 NTU" in text


def test_a_margin_that_shrinks(page):
    def shrink(found):
        margins = tuple(np.linspace(0.25, 0.17, 9).tolist())
        return replace(found, margins=margins, trend=Trend(-0.01, -0.012, -0.008))

    _, text = page("instantaneous", edit=shrink, high=0.3)
    assert "margin 0.170 NTU" in text and "8 weeks before: 0.180 to 0.250" in text
    assert "shrinking by 0.01 a week (0.008 to 0.012)" in text


def test_less_than_in_the_lab_book(tmp_path, make):
    (tmp_path / "a.csv").write_text(
        "tag,time,value,unit\nAIT-1,2026-11-09 08:00,<0.02,\nAIT-1,2026-11-09 09:00,< 20,ug/L\n"
        "AIT-1,2026-11-09 10:00,0.3,\nAIT-1,2026-11-09 11:00,<,\n",
        encoding="utf-8",
    )
    frame, faults = lab.read(tmp_path, make.zone, {"AIT-1": make.tag(tag="AIT-1", unit="mg/L")})
    assert frame["value"].to_list() == pytest.approx([0.02, 0.02, 0.3])
    assert frame["below"].to_list() == [True, True, False]
    assert [(fault.row, fault.column) for fault in faults] == [(5, "value")]
