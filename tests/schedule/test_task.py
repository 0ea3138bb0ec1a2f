"""The weekly task: whose it is, what it calls, and when it comes next."""

from collections.abc import Callable
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.config.load import Plant
from pipeline.schedule.task import Task, task_of

MakePlant = Callable[..., Plant]


def test_it_comes_on_the_first_day_of_the_plants_week_unless_told_otherwise(make_plant: MakePlant) -> None:
    assert task_of(make_plant()).day == 0
    sunday = task_of(make_plant(top='week_starts = "sunday"'))
    assert (sunday.day, f"{sunday.at:%H:%M}") == (6, "05:00")
    told = task_of(make_plant(top='week_starts = "sunday"', more='[schedule]\nday = "tuesday"\nat = "06:30"'))
    assert (told.day, f"{told.at:%H:%M}") == (1, "06:30")


def test_it_calls_this_installation_for_this_plant(make_plant: MakePlant) -> None:
    plant = make_plant()
    task = task_of(plant)
    assert Path(task.command[0]).is_file()
    assert task.command[-3:] == ("--plant", str(plant.folder.resolve()), "run")
    assert task.log.parent == plant.folder.resolve() / "reports"


@pytest.mark.parametrize(
    ("now", "following"),
    [
        ("2026-11-09T04:59-07:00", "2026-11-09T05:00-07:00"),
        ("2026-11-09T05:00-07:00", "2026-11-16T05:00-07:00"),
        # The clocks go back on 1 November and forward on 8 March (15 U.S.C. 260a): 5:00 stays 5:00.
        ("2026-10-26T06:00-06:00", "2026-11-02T05:00-07:00"),
        ("2026-03-02T06:00-07:00", "2026-03-09T05:00-06:00"),
    ],
)
def test_five_in_the_morning_stays_five_over_the_change_of_the_clocks(
    make_plant: MakePlant, now: str, following: str
) -> None:
    found = task_of(make_plant()).following(datetime.fromisoformat(now))
    assert found == datetime.fromisoformat(following)


@given(st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC)))
def test_the_next_run_is_within_a_week_on_its_day(now: datetime) -> None:
    task = Task("t", "A plant", Path("/srv/plant"), ("stillwell",), 2, time(5), ZoneInfo("America/Denver"))
    found = task.following(now)
    assert found > now
    assert found - now <= timedelta(days=7, hours=1)
    assert (found.weekday(), found.time()) == (task.day, task.at)


def test_two_plants_of_one_name_have_two_timers(make_plant: MakePlant) -> None:
    plant = make_plant()
    other = Plant(plant.folder.with_name("other"), plant.file, plant.tags, plant.instruments, plant.limits)
    assert task_of(plant).name != task_of(other).name
