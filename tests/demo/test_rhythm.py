"""The town lives like a town. All checks here: common practice, no source."""

import numpy as np

from pipeline.demo.calendar import Calendar
from pipeline.demo.rhythm import sewage, water_demand
from pipeline.demo.water import Signals
from pipeline.demo.weather import make_weather, storm_list


def month(calendar: Calendar) -> np.ndarray:
    return calendar.wall.astype("datetime64[M]").astype(int) % 12 + 1


def test_demand_has_a_morning_and_an_evening_peak(calendar: Calendar) -> None:
    demand = water_demand(1, calendar, make_weather(1, calendar))
    winter = np.isin(month(calendar), (12, 1, 2)) & (calendar.weekday < 5)
    hourly = [demand[winter & (np.floor(calendar.hour) == hour)].mean() for hour in range(24)]
    assert 6 <= int(np.argmax(hourly)) <= 8
    assert max(hourly[17:20]) > 1.2 * max(hourly[13:15])
    assert int(np.argmin(hourly)) in (1, 2, 3)
    assert max(hourly) > 3.0 * min(hourly)


def test_a_town_of_five_thousand_uses_half_to_one_and_a_quarter_mgd(calendar: Calendar) -> None:
    demand = water_demand(1, calendar, make_weather(1, calendar))
    summer, winter = np.isin(month(calendar), (7, 8)), np.isin(month(calendar), (1, 2))
    assert 0.5 < demand[winter].mean() < 0.7
    assert 0.9 < demand[summer].mean() < 1.25


def test_sewage_is_what_five_thousand_people_send(calendar: Calendar) -> None:
    """60 to 120 gallons a person and day in dry weather."""
    per_person = sewage(1, calendar).mean() * 1e6 / 5000
    assert 60 < per_person < 120


def test_reservoir_temperature_follows_the_seasons(calendar: Calendar, water: Signals) -> None:
    mean = {m: water["TIT-101"][month(calendar) == m].mean() for m in range(1, 13)}
    assert mean[2] < 4 < mean[5] < mean[10] < mean[8]
    assert 17 < mean[8] < 21
    assert 10 < mean[11] < 14


def test_summer_afternoons_raise_the_raw_ph(calendar: Calendar, water: Signals) -> None:
    july = month(calendar) == 7
    afternoon = july & (calendar.hour > 15) & (calendar.hour < 18)
    dawn = july & (calendar.hour > 4) & (calendar.hour < 7)
    assert water["AIT-102"][afternoon].mean() > water["AIT-102"][dawn].mean() + 0.05


def test_storms_cloud_the_raw_water_and_fill_the_sewers(calendar: Calendar, water: Signals) -> None:
    storms = storm_list(calendar)
    assert 15 <= len([storm for storm in storms if storm.start >= "2025-11-16"]) <= 25
    for storm in storms:
        if storm.inches >= 0.3:
            at = calendar.index(storm.start)
            before, after = slice(at - 96, at), slice(at, at + 144)
            assert water["AIT-101"][after].max() > 1.5 * water["AIT-101"][before].mean()
            assert water["FIT-501"][after].max() > water["FIT-501"][before].max()


def test_ordinary_sizes(water: Signals) -> None:
    assert 2.0 < np.median(water["AIT-101"]) < 8.0
    assert 40 < water["AIT-101"].max() < 75
    assert 0.04 <= np.median(water["AIT-130"]) <= 0.08
    assert 0.75 < np.median(water["AIT-131"]) < 0.95
    assert abs(np.median(water["AIT-132"]) - 7.2) < 0.05
    assert 100 < np.median(water["PIT-131"]) < 120
