"""Frozen's bars: how far longer than usual a run of identical readings must be, on family A."""

from collections.abc import Sequence

from benchmarks.thresholds_line import mapped, noted
from benchmarks.thresholds_samples import Healthy, healthy
from pipeline.spc.runs import longest_usual_run

FROZEN_A_YEAR = 0.1
TRAINS = 30
CAUTIONS = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5)
STANDING: dict[str, tuple[object, str]] = {
    "run_caution": (0.15, "less would do for the budget on family A, but finds nothing more"),
}


def caution_for(every: Sequence[Healthy], a_year: float) -> tuple[float, float]:
    """Return the smallest caution that keeps healthy signals within the budget, and how often they fail."""
    years = sum(one.years for one in every)
    for caution in CAUTIONS:
        often = sum(_called_stuck(one, caution) for one in every) / years
        if often <= a_year:
            break
    return caution, often


def _called_stuck(one: Healthy, caution: float) -> int:
    usual = [longest_usual_run(past, years, caution=caution) for past, years in one.past_runs]
    return sum(int((runs > max(bar, 5)).sum()) for runs, bar in zip(one.runs, usual, strict=True))


def derived() -> dict[str, dict[str, object]]:
    """Derive the bars of stuck runs; for each its value and what it rests on."""
    sound: list[Healthy] = mapped(healthy, TRAINS)
    caution, often = caution_for(sound, FROZEN_A_YEAR)
    frozen = f"{FROZEN_A_YEAR} false stuck runs a year of a healthy sensor"
    rows = (
        ("run_per_year", FROZEN_A_YEAR, "the budget itself: runs a year longer than allowed"),
        ("run_caution", caution, f"{frozen}; measured {often:.3f}"),
    )
    return {name: noted(name, value, what, len(sound), STANDING) for name, value, what in rows}
