"""Logbook: what the technicians and operators of the demo wrote down."""

from zlib import crc32

import numpy as np
import polars as pl

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.noise import stream
from pipeline.demo.papers import paper
from pipeline.demo.readings import GRAIN, typical
from pipeline.demo.script import OPERATIONS
from pipeline.demo.service import Service, error_size, services, stretches
from pipeline.demo.sheets import Instrument, Sheets
from pipeline.demo.water import Signals

CALIBRATIONS = ("instrument", "time", "kind", "as_found", "as_left", "reference", "by", "note")
MAINTENANCE = ("subject", "start", "end", "by", "note")
VERDICTS = ("finding_id", "verdict", "by", "time", "note")
BUFFER_PH = 7.00


def calibrations(seed: int, calendar: Calendar, sheets: Sheets, water: Signals) -> pl.DataFrame:
    """Return the calibration log, oldest first; times are wall clock.

    as_found - reference is the error that had accrued since the service before; as_left shows that it
    is gone.
    """
    found: list[tuple[str, ...]] = []
    for instrument in sheets.instruments.values():
        found += _visits(seed, calendar, instrument, water)
    return paper(found, CALIBRATIONS, lambda row: (row[1], row[0]))


def _visits(seed: int, calendar: Calendar, instrument: Instrument, water: Signals) -> list[tuple[str, ...]]:
    tag = instrument.tag
    usual = typical(water[tag.tag])
    source = stream(seed, f"log {instrument.instrument}")
    first = str(calendar.wall[0])
    accrued = [part.strayed * error_size(instrument, usual) for part in stretches(seed, instrument, first)]
    found: list[tuple[str, ...]] = []
    for visit, error in zip(services(instrument, first), accrued, strict=False):
        before, set_wrong = _scripted_errors(visit, error)
        true = BUFFER_PH if tag.measures == "ph" else _water_at(calendar, visit, water[tag.tag], usual)
        noise = 0.4 * GRAIN[tag.measures] * source.standard_normal(2)
        scale = true if tag.relative else 1.0
        as_found, as_left = true + (before + noise[0]) * scale, true + (set_wrong + noise[1]) * scale
        texts = [f"{max(0.0, number):.{tag.decimals}f}" for number in (as_found, as_left, true + set_wrong)]
        technician = f"tech{1 + crc32(f'{instrument.instrument} {visit.when}'.encode()) % 2}"
        note = visit.fault.note if visit.fault and visit.fault.kind != "step" else ""
        found.append((instrument.instrument, visit.when, visit.kind, *texts, technician, note))
    return found


def _scripted_errors(visit: Service, error: float) -> tuple[float, float]:
    """Return the error before a visit, and the error it left: a bad reference leaves one."""
    if visit.fault is None or visit.fault.kind not in ("drift", "step"):
        return error, 0.0
    if visit.fault.kind == "step" and visit.when == visit.fault.start:
        return error, visit.fault.size
    return error + visit.fault.size, 0.0


def _water_at(calendar: Calendar, visit: Service, water: FloatArray, usual: float) -> float:
    """Return what the water was around a visit; the usual value outside the record or at standstill."""
    at = calendar.index(visit.when)
    if not 0 <= at < len(calendar):
        return usual
    around = water[max(0, at - calendar.steps(2.0)) : at + calendar.steps(2.0)]
    running = around[around > 0.3 * usual]
    return float(np.median(running)) if len(running) else usual


def maintenance(calendar: Calendar) -> pl.DataFrame:
    """Return the maintenance windows that somebody wrote down."""
    found = []
    for operation in OPERATIONS:
        if calendar.covers(operation.start):
            for subject in operation.logged:
                found.append((subject, operation.start, operation.end, "op1", operation.note))
    if calendar.covers("2026-08-26T07:30"):
        note = "repeater of the lift stations repaired"
        found.append(("lift", "2026-08-26T07:30", "2026-08-26T09:00", "tech1", note))
    return paper(found, MAINTENANCE, lambda row: (row[1], row[0]))


def verdicts() -> pl.DataFrame:
    """Return an empty list of verdicts: nobody has judged a finding yet."""
    return paper([], VERDICTS, str)
