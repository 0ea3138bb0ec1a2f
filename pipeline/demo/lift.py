"""Lift stations: six wet wells that fill and are pumped down, and the flow that reaches the plant."""

from dataclasses import dataclass

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.distribution import GPM_PER_MGD
from pipeline.demo.noise import lag, wander
from pipeline.demo.shapes import bend
from pipeline.demo.water import Signals
from pipeline.demo.weather import Weather

STORM_MGD = 1.75
"""Inflow of the whole town at the peak of an inch of rain in eight hours [MGD]."""


@dataclass(frozen=True)
class Station:
    """One lift station.

    Parameters
    ----------
    number : int
        Loop number, as in LIT-40<number>.
    sewage_share, storm_share : float
        Share of the town's sewage and of its storm inflow.
    gal_per_ft : float
        Area of the wet well [gal/ft].
    off_ft, on_ft, lag_ft : float
        Levels at which the pumps stop, the first starts and the second joins [ft].
    pump_gpm : float
        What one pump lifts [gpm].
    """

    number: int
    sewage_share: float
    storm_share: float
    gal_per_ft: float
    off_ft: float
    on_ft: float
    lag_ft: float
    pump_gpm: float


STATIONS = (
    Station(1, 0.26, 0.20, 1150.0, 2.5, 6.2, 7.2, 290.0),
    Station(2, 0.20, 0.16, 850.0, 2.2, 5.8, 6.8, 230.0),
    Station(3, 0.10, 0.08, 590.0, 2.0, 5.2, 6.2, 140.0),
    Station(4, 0.14, 0.22, 590.0, 2.4, 6.0, 6.8, 260.0),
    Station(5, 0.07, 0.06, 380.0, 2.0, 5.0, 6.0, 110.0),
    Station(6, 0.09, 0.08, 480.0, 2.0, 5.4, 6.4, 130.0),
)


def sewers(seed: int, calendar: Calendar, weather: Weather, sewage_mgd: FloatArray) -> Signals:
    """Return wet-well levels, pump states of stations 1 and 2, and the influent flow [MGD].

    What no station lifts runs by gravity. Rain comes in at once through the sewers' joints, and for
    days through the wet ground.
    """
    storm = STORM_MGD * weather.runoff + 0.30 * weather.wetness + 0.05 * weather.melt
    signals: Signals = {}
    arriving = np.zeros(len(calendar))
    by_station = np.zeros(len(calendar))
    for station in STATIONS:
        noise = np.exp(wander(seed, f"lift {station.number}", calendar, 0.05))
        inflow_mgd = (station.sewage_share * sewage_mgd * noise) + station.storm_share * storm
        level, pumped_gpm, running = wet_well(station, calendar, inflow_mgd * GPM_PER_MGD)
        tag = f"LIT-40{station.number}"
        signals[tag] = bend(tag, calendar, level)
        if station.number <= 2:
            signals[f"YS-40{station.number}"] = running
        arriving += pumped_gpm / GPM_PER_MGD
        by_station += inflow_mgd
    gravity = sewage_mgd + 0.04 + storm - by_station
    signals["FIT-501"] = lag(gravity + arriving, 0.6, calendar)
    return signals


def wet_well(
    station: Station, calendar: Calendar, inflow_gpm: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fill and pump one wet well, exactly, whatever the step.

    Within a step the inflow is steady, so the level moves in straight lines from one switching point to
    the next.

    Returns
    -------
    level_ft, pumped_gpm, running : ndarray
        Level at each instant [ft], mean flow lifted during the step after it [gpm], pump state at it.
    """
    n, minutes = len(calendar), float(calendar.step_minutes)
    levels, pumped, states = np.empty(n), np.empty(n), np.empty(n)
    level, pumps = station.off_ft + 1.0, 0
    for i, inflow in enumerate(inflow_gpm.tolist()):
        levels[i], states[i] = level, float(pumps > 0)
        left, lifted = minutes, 0.0
        while left > 1e-9:
            net = (inflow - pumps * station.pump_gpm) / station.gal_per_ft
            target = _next_switch(station, pumps, net)
            spent = left if target is None else min(left, max(0.0, (target - level) / net))
            level += net * spent
            lifted += pumps * station.pump_gpm * spent
            left -= spent
            if target is not None and abs(level - target) < 1e-9:
                pumps = 0 if net < 0.0 else pumps + 1
        pumped[i] = lifted / minutes
    return levels, pumped, states


def _next_switch(station: Station, pumps: int, net_ft_min: float) -> float | None:
    """Return the level at which the pumps switch next [ft]; None while no switch lies ahead."""
    if net_ft_min < 0.0:
        return station.off_ft if pumps else None
    if net_ft_min == 0.0 or pumps == 2:
        return None
    return station.lag_ft if pumps else station.on_ft
