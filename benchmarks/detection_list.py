"""List: rows of the whole calibration list of plants as they are, most of their sensors healthy."""

import numpy as np

from benchmarks.detection_counts import YEAR_DAYS, Records, Row, delays, found, lower, of_share
from benchmarks.scoring import Record, is_in_time, is_true, passings
from benchmarks.scoring_rates import quantile, share

SENSORS = 40
REFERENCES = ("none", "weekly", "daily", "twin", "steps")


def whole_list(every: Records) -> list[Row]:
    """Return the rows."""
    mixed = [one for one in every if one.group == "mix"]
    right = share(is_true(one, said) for one in mixed for said in one.entries)
    weeks, wrong, n = sum(one.scored_days for one in mixed) / 7.0, right.n - right.hits, len(mixed)
    in_time = [(one, is_in_time(one, passing)) for one in mixed for passing in passings(one)]
    by_grabs = share(was for one, was in in_time if one.reference in ("weekly", "daily"))
    by_any = share(was for one, was in in_time if one.reference != "none")
    said = share(
        is_in_time(one, passing, is_listed=False)
        for one in mixed if one.reference != "none" for passing in passings(one)
    )  # fmt: skip
    rate = wrong / weeks if weeks else None
    told = f"{wrong} in {weeks:.0f} sensor-weeks"
    a_week = f"whole list of {SENSORS} sensors: false entries a week"
    early = "errors past tolerance on the list before they doubled it"
    return [
        lower("list-false-per-week", a_week, rate and SENSORS * rate, "1/week", n, (0.10, 0.15), told),
        lower("list-false-per-year", "the same, a sensor-year", rate and rate * YEAR_DAYS / 7, "1/year", n),
        of_share("list-precision", "entries of the list that were right", right, (0.95, 0.90)),
        of_share("list-in-time", early, share(was for _, was in in_time), (None, 0.85)),
        of_share("list-in-time-grabs", f"{early}, where grabs are taken", by_grabs, (None, 0.85)),
        of_share("list-in-time-any", f"{early}, where there is any reference", by_any, (None, 0.85)),
        of_share("said-in-time-any", "the same among the findings, on the list or for the record", said),
        *(_healthy(mixed, reference) for reference in REFERENCES),
    ]  # fmt: skip


def _healthy(mixed: Records, reference: str) -> Row:
    here = [one for one in mixed if one.reference == reference and not one.faults]
    years = sum(one.scored_days for one in here) / YEAR_DAYS
    wrong = sum(not is_true(one, said) for one in here for said in one.entries)
    what = f"false entries a year of a healthy sensor, reference {reference}"
    detail = f"{wrong} in {years:.0f} sensor-years"
    return lower(
        f"healthy-{reference}-false",
        what,
        wrong / years if years else None,
        "1/year",
        len(here),
        detail=detail,
    )


def by_fault(every: Records) -> list[str]:
    """Return lines of recall and delay by group, reference and measure, the groups as a whole first."""
    keys = {_key(one) for one in every if one.faults and one.group != "mix"}
    wholes = {(group, reference, "all") for group, reference, _ in keys}
    return [_line(every, key) for key in sorted(keys | wholes)]


def _key(one: Record) -> tuple[str, str, str]:
    return one.group, one.reference, one.measure


def _line(every: Records, key: tuple[str, str, str]) -> str:
    here = [one for one in every if key in (_key(one), (*_key(one)[:2], "all"))]
    late = delays(here)
    middle, slow = quantile(late, 0.5), quantile(late, 0.9)
    told = "" if middle is None or slow is None else f"delay {middle:.1f} d, p90 {slow:.1f} d"
    shares = "  ".join(
        f"{name} {found(here, days)!s:24}" for name, days in (("28 d", 28), ("56 d", 56), ("ever", np.inf))
    )
    return f"{key[0]:18} {key[1]:7} {key[2]:12} {shares} {told}"
