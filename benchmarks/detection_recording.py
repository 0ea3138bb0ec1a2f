"""Recording: rows of the faults of the recording; without a figure as long as no check looks for them."""

from benchmarks.detection_counts import NONE, YEAR_DAYS, Bars, Records, Row, found, lower, of_share
from benchmarks.faults import FOUND_BY
from benchmarks.scoring import is_true
from benchmarks.scoring_rates import Share
from pipeline import checks
from pipeline.parts import parts

KINDS: tuple[tuple[str, Bars, Bars], ...] = (
    ("damped", (0.90, 0.80), (0.20, 0.30)),
    ("noisier", (0.90, 0.80), (0.20, 0.30)),
    ("spikes", (0.95, 0.88), (5.2, 13.0)),
    ("pegged", NONE, NONE),
    ("gap", NONE, NONE),
    ("out_of_range", NONE, NONE),
    ("scale", NONE, NONE),
    ("resolution", NONE, NONE),
    ("clock", NONE, NONE),
    ("copied", NONE, NONE),
)
"""Fault, bars of its recall and of its false entries a sensor-year."""

WITHIN_DAYS = {"clock": 42.0}
"""Where it takes longer than 14 days: a day's course is known after several."""

NOT_OF_TEMPERATURE = ("damped", "noisier")
LONG_STUCK_HOURS = {"temperature": 24.0}


def recording(every: Records) -> list[Row]:
    """Return the rows."""
    return [*_stuck(every), *(row for kind in KINDS for row in _kind(every, *kind))]


def _stuck(every: Records) -> list[Row]:
    once = [one for one in every if one.group.startswith("stuck-") and one.group != "stuck-again"]
    long = [one for one in once if float(one.group[6:]) >= LONG_STUCK_HOURS.get(one.measure, 12.0)]
    short = [one for one in once if one.group == "stuck-6"]
    again = [one for one in every if one.group == "stuck-again"]
    told = "stuck for 12 h or longer (temperature 24 h), found"
    return [
        of_share("stuck-recall", told, found(long, 14), (1.0, 0.98)),
        of_share("stuck-short-recall", "stuck for 6 h, found", found(short, 14)),
        of_share(
            "stuck-again-recall", "stuck for 12 h seven times in half a year, each found", found(again, 14)
        ),
        _false(every, "frozen", "stuck", (0.05, 0.10)),
    ]


def _kind(every: Records, fault: str, recall: Bars, false: Bars) -> list[Row]:
    here = [one for one in every if one.group.startswith(f"{fault}-")]
    if fault in NOT_OF_TEMPERATURE:
        here = [one for one in here if one.measure != "temperature"]
    looked_for = bool(set(parts(checks)) & set(FOUND_BY[fault]))
    label, words = fault.replace("_", "-"), fault.replace("_", " ")
    days = WITHIN_DAYS.get(fault, 14.0)
    counted = found(here, days) if looked_for else Share(0, 0)
    row = of_share(f"{label}-recall", f"{words}, found in {days:.0f} days", counted, recall)
    finding = FOUND_BY[fault][0]
    return [row, _false(every, finding, label, false)] if finding in parts(checks) or false != NONE else [row]


def _false(every: Records, kind: str, label: str, bars: Bars) -> Row:
    mixed = [one for one in every if one.group == "mix"]
    years = sum(one.scored_days for one in mixed) / YEAR_DAYS
    wrong = sum(said.kind == kind and not is_true(one, said) for one in mixed for said in one.entries)
    figure = wrong / years if years and kind in parts(checks) else None
    detail = f"{wrong} in {years:.0f} sensor-years"
    return lower(
        f"{label}-false",
        f"false entries of kind {kind} a sensor-year",
        figure,
        "1/year",
        round(years),
        bars,
        detail,
    )
