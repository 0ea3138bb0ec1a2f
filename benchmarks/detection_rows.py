"""Rows: the figures of fault finding, each with its target and floor, from records of many sensors."""

import numpy as np

from benchmarks.detection_counts import NONE, Bars, Records, Row, delays, found, lower, of, of_share, rounded
from benchmarks.detection_list import whole_list
from benchmarks.detection_recording import recording
from benchmarks.scoring import Record, Said, caught
from benchmarks.scoring_rates import half_width, quantile, share

SLOW = "0.02 pH or mg/L, 5 % of turbidity, 2 % of flow a week"
FAST = "0.05 pH or mg/L, 12 % of turbidity, 5 % of flow a week"
JUDGED = (
    "drift-own", "drift-own-fast", "drift-weekly", "drift-weekly-slow", "drift-daily", "drift-daily-slow",
    "fouling-weekly",
)  # fmt: skip

RECALLS: tuple[tuple[str, str, str, float, Bars], ...] = (
    ("drift-grab", f"drift of {SLOW}, weekly grabs, found in 56 days", "drift-weekly-slow", 56, (0.95, 0.88)),
    ("drift-own", f"drift of {FAST}, own history, found in 56 days", "drift-own", 56, (0.90, 0.82)),
    ("drift-twin", f"drift of {SLOW}, twin, found in 28 days", "drift-twin-slow", 28, (0.95, 0.88)),
    ("drift-daily", f"drift of {SLOW}, daily grabs, found in 56 days", "drift-daily-slow", 56, NONE),
    ("drift-steps", f"drift of {FAST}, steps at services, found in 56 days", "drift-steps", 56, NONE),
    ("fouling-grab", "accelerating fouling, weekly grabs, found in 56 days", "fouling-weekly", 56, NONE),
    ("fouling-own", "the same by own history", "fouling-own", 56, NONE),
    (
        "step-grab",
        "step of two tolerances at a service, weekly grabs, found in 28 days",
        "step-weekly",
        28,
        NONE,
    ),
    ("step-own", "the same by own history", "step-own", 28, NONE),
)
"""Name, sentence, group, days, target and floor."""

ESTIMATES: tuple[tuple[str, str, str, Bars, Bars, Bars], ...] = (
    ("own", "own history", "drift-own", (0.05, 0.10), (0.20, 0.30), (7.0, 10.0)),
    ("grab", "weekly grabs", "drift-weekly", (0.03, 0.10), (0.10, 0.30), (4.0, 6.0)),
)
"""Name, reference, group, bars of the rate's bias and spread and of the onset."""


def rows(every: Records) -> list[Row]:
    """Return all rows."""
    return [
        *_recalls(every),
        *_estimates(every),
        *_labels(every),
        *recording(every),
        *whole_list(every),
    ]


def _recalls(every: Records) -> list[Row]:
    made = [
        of_share(f"{name}-recall", what, found(of(every, group), days), bars)
        for name, what, group, days, bars in RECALLS
    ]
    for name, group in (("drift-grab", "drift-weekly"), ("drift-own", "drift-own")):
        late = delays(of(every, group))
        what = f"delay of {FAST} by {'weekly grabs' if group == 'drift-weekly' else 'own history'}"
        made += [
            lower(f"{name}-delay-{part}", f"{what}, {part}", quantile(late, q), "d", len(late))
            for part, q in (("median", 0.5), ("p90", 0.9))
        ]
    return made


def _judged(records: Records) -> list[tuple[Record, Said]]:
    return [(one, one.at_56) for one in records if one.at_56 is not None and one.true_rate]


def _estimates(every: Records) -> list[Row]:
    made = []
    for name, by, group, bias, spread, onset in ESTIMATES:
        pairs = _judged(of(every, group))
        n = len(pairs)
        off = [said.rate / one.true_rate - 1.0 for one, said in pairs]
        late = [abs(said.start - np.floor(one.faults[0].begin)) for one, said in pairs]
        far = [(said.error - truth) * np.sign(truth) for one, said in pairs for truth in [now(one)]]
        middle = quantile(off, 0.5)
        size = None if middle is None else abs(middle)
        rate = f"rate of {FAST} 56 days on, {by}"
        made += [
            lower(f"rate-{name}-bias", f"{rate}: median error", size, "", n, bias, f"{rounded(middle)}"),
            lower(
                f"rate-{name}-spread", f"{rate}: half the quartile distance", half_width(off), "", n, spread
            ),
            lower(f"onset-{name}", f"mean distance of its onset, {by}", _mean(late), "d", n, onset),
            lower(
                f"size-{name}-bias", f"its error less the true one, {by}", quantile(far, 0.5), "tolerances", n
            ),
        ]
    pairs = _judged(of(every, *JUDGED))
    covered = share(said.low <= now(one) <= said.high for one, said in pairs)
    what = "95 % interval of the present error holds the truth 56 days on"
    return [*made, of_share("interval-coverage", what, covered, (0.95, 0.90))]


def _mean(values: list[float]) -> float | None:
    return float(np.mean(values)) if values else None


def now(record: Record) -> float:
    """Return the true error 56 days after the fault began: mean of the last three days."""
    day = int(record.faults[0].begin + 56.0)
    return float(np.nanmean(record.error[day - 3 : day]))


def _labels(every: Records) -> list[Row]:
    def named(*groups: str) -> list[Said]:
        pairs = [(one, fault) for one in of(every, *groups) for fault in one.faults]
        return [said for one, fault in pairs if (said := caught(one, fault, 84.0)) is not None]

    right = share(
        said.kind == "drift" for said in named("drift-own", "drift-own-fast", "drift-weekly", "drift-daily")
    )
    wrong = share(said.kind == "drift" for said in named("step-weekly"))
    blamed = share(
        any(said.kind == "drift" and said.crossed >= one.troubles[0].begin - 1 for said in one.entries)
        for one in of(every, "shift-own")
    )
    shift = "lasting shifts of the water (5 sd of a day) called drift by own history"
    return [
        of_share("label-ramp", "drifts that were found and called drift", right, (0.95, 0.88)),
        of_share("label-shift", shift, blamed, (0.05, 0.16), "lower"),
        of_share("label-step", "steps at a service that were found and called drift", wrong, NONE, "lower"),
    ]
