"""Cli upset: times by the plant's clock, held against offsets and the autumn night of the IANA zones."""

from datetime import UTC, datetime
from types import SimpleNamespace

import polars as pl
import pytest

from pipeline import cli_upset, opened
from pipeline.clock import zone_of

TIME = pl.Datetime("us", "UTC")


@pytest.fixture
def told(monkeypatch, capsys):
    """What `upset list` prints of one upset for a plant in a zone."""

    def run(zone, form, start, end=None):
        frame = pl.DataFrame(
            [("clearwell.x", start, end)], {"upset_id": pl.String, "start": TIME, "end": TIME}, orient="row"
        )
        found = SimpleNamespace(end=datetime(2026, 11, 16, tzinfo=UTC), upsets=lambda *_: frame)
        monkeypatch.setattr(opened, "Opened", lambda _: found)
        plant = SimpleNamespace(zone=zone_of(zone), file=SimpleNamespace(time_zone=zone))
        cli_upset.list_upsets(plant, None, None, form)
        return capsys.readouterr().out

    return run


@pytest.mark.parametrize("zone", ["America/Denver", "-07:00"])
def test_a_table_has_the_wall_clock_and_names_the_zone_once(told, zone):
    """Mountain standard time is seven hours behind UTC, whether a place or an offset names it."""
    out = told(zone, "table", datetime(2026, 11, 14, 7, 15, tzinfo=UTC))
    assert "| 2026-11-14 00:15 |" in out
    assert out.count(zone) == 1
    assert "UTC" not in out


@pytest.mark.parametrize("zone", ["America/Denver", "-07:00"])
def test_a_csv_has_the_offset_in_every_time_and_nothing_else(told, zone):
    out = told(zone, "csv", datetime(2026, 11, 14, 7, 15, tzinfo=UTC))
    assert out == "upset_id,start,end\nclearwell.x,2026-11-14T00:15:00-07:00,\n"


def test_the_hour_that_comes_twice_says_which(told):
    """On 1 November 2026 the clocks of Denver go from 02:00 MDT (08:00 UTC) back to 01:00 MST."""
    first, second = datetime(2026, 11, 1, 7, 30, tzinfo=UTC), datetime(2026, 11, 1, 8, 30, tzinfo=UTC)
    out = told("America/Denver", "table", first, second)
    assert "| 2026-11-01 01:30 MDT | 2026-11-01 01:30 MST |" in out
