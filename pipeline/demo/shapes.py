"""Shapes: how a scripted excursion bends the water's own course and lets go of it again."""

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.script import EXCURSIONS, Excursion


def plateau(calendar: Calendar, start: str, end: str, shoulder_minutes: float) -> FloatArray:
    """Return 1 from `start` to just before `end`, with straight shoulders outside.

    The shoulder after the end is counted from the last 15-minute stamp inside, so that a record kept
    every 15 minutes sees a full value before `end` and a clearly smaller one at it.
    """
    before = -calendar.hours_since(start) * 60.0
    after = calendar.hours_since(end) * 60.0 + 15.0
    return np.clip(1.0 - np.maximum(before, after) / shoulder_minutes, 0.0, 1.0)


def bend(tag: str, calendar: Calendar, water: FloatArray) -> FloatArray:
    """Return `water` with every scripted excursion of `tag` in it."""
    for excursion in EXCURSIONS:
        if excursion.tag == tag and calendar.covers(excursion.start):
            share = plateau(calendar, excursion.start, excursion.end, excursion.shoulder_minutes)
            water = water + share * (_course(calendar, excursion) - water)
    return water


def _course(calendar: Calendar, excursion: Excursion) -> FloatArray:
    """Return edge - peak - edge, a smooth hump over the excursion."""
    since_h = calendar.hours_since(excursion.start)
    length_h = since_h - calendar.hours_since(excursion.end)
    along = np.clip(since_h / length_h, 0.0, 1.0)
    return np.asarray(excursion.edge + (excursion.peak - excursion.edge) * np.sin(np.pi * along))


def feed_share(calendar: Calendar, contact_minutes: float) -> FloatArray:
    """Return the share of the hypochlorite feed that still runs: 1, and near 0 in a feed fault.

    The feed fails one contact time before the entry point shows it.
    """
    share = np.ones(len(calendar))
    lead_h = contact_minutes / 60.0
    for excursion in EXCURSIONS:
        if excursion.tag == "AIT-131" and calendar.covers(excursion.start):
            lost = (calendar.hours_since(excursion.start) >= -lead_h) & (
                calendar.hours_since(excursion.end) < -lead_h
            )
            share[lost] = 0.03
    return share
