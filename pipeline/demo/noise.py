"""Noise: every tag has its own stream, wandering on several time scales at once.

Plant records are not independent samples: about a third of their variance lasts hours, a third about a
day and a third a week. The sum of three first-order processes imitates that, whatever the step.
"""

from zlib import crc32

import numpy as np
import polars as pl

from pipeline.demo.calendar import Calendar, FloatArray

SCALES_H = (2.0, 14.0, 110.0)
SHARES = (0.45, 0.55, 0.70)
BOUND_SD = 2.6


def stream(seed: int, name: str) -> np.random.RandomState:
    """Return the random stream of one name.

    `RandomState` and not `Generator`: numpy promises that its numbers never change, so that a committed
    demo can be made again byte for byte.
    """
    return np.random.RandomState([seed & 0xFFFFFFFF, crc32(name.encode())])


def lag(values: FloatArray, time_constant_h: float, calendar: Calendar) -> FloatArray:
    """Pass `values` through a first-order lag (a mixed tank) of `time_constant_h` [h]."""
    share = 1.0 - float(np.exp(-calendar.step_minutes / 60.0 / time_constant_h))
    return pl.Series(values).ewm_mean(alpha=share, adjust=False).to_numpy()


def ar1(source: np.random.RandomState, calendar: Calendar, time_constant_h: float) -> FloatArray:
    """Return first-order noise of unit standard deviation and the given time constant [h].

    The coefficient is exp(-step / time constant), so a finer step gives the same process.
    """
    share = 1.0 - float(np.exp(-calendar.step_minutes / 60.0 / time_constant_h))
    spread = float(np.sqrt(share / (2.0 - share)))
    shocks = source.standard_normal(len(calendar))
    shocks[0] *= spread
    return pl.Series(shocks).ewm_mean(alpha=share, adjust=False).to_numpy() / spread


def wander(seed: int, name: str, calendar: Calendar, sd: float) -> FloatArray:
    """Return multi-scale noise of standard deviation `sd`, softly bounded at 2.6 sd.

    The bound keeps the water inside what an attended plant lets happen: large departures are
    the script's business (`script.py`), not the noise's.
    """
    source = stream(seed, f"wander {name}")
    total = sum(share * ar1(source, calendar, hours) for share, hours in zip(SHARES, SCALES_H, strict=True))
    return np.asarray(sd * BOUND_SD * np.tanh(total / BOUND_SD), dtype=np.float64)


def white(seed: int, name: str, calendar: Calendar, sd: float) -> FloatArray:
    """Return independent noise of standard deviation `sd`, cut at 3.5 sd."""
    shocks = stream(seed, f"white {name}").standard_normal(len(calendar))
    return np.asarray(sd * np.clip(shocks, -3.5, 3.5), dtype=np.float64)


def jitter(seed: int, name: str, share: float) -> float:
    """Return a factor within 1 +- `share`: how much larger or smaller this seed makes one thing."""
    return 1.0 + share * float(stream(seed, f"jitter {name}").uniform(-1.0, 1.0))
