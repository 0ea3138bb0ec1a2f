"""Findings of the troubled week: each kind, each severity, each status."""

from datetime import date, timedelta

from pipeline.finding import Finding
from tests.report.harrow_fork import at

CHLORINE_DRIFT = Finding(
    tag="AIT-131",
    instrument="AE-131",
    kind="drift",
    severity="act",
    crossed=date(2026, 11, 4),
    start=at(1, "00:00") - timedelta(days=10),
    end=None,
    reference="lab grab",
    unit="mg/L",
    evidence="Reads 0.21 mg/L below the lab grabs (95 % interval 0.15 to 0.27), changing by −0.060 mg/L a "
    "week since about 22 Oct 2026; 8 grabs since its last service.",
    check_first="a grab side by side, then sample flow, membrane and reagent or cell",
    estimate=-0.21,
    ci_low=-0.27,
    ci_high=-0.15,
    rate_per_week=-0.06,
    tolerance=0.165,
    tolerance_source="plant practice",
    reaches_tolerance_on=date(2026, 11, 9),
    status="ongoing",
)

PH_FROZEN = Finding(
    tag="AIT-132",
    instrument="AE-132",
    kind="frozen",
    severity="act",
    crossed=date(2026, 11, 12),
    start=at(12, "14:00"),
    end=None,
    reference="own recording",
    unit="pH",
    evidence="Showed pH 7.64 without any change for 3 d 10 h (328 readings); by its own past it repeats "
    "itself for at most 2 h 45 min.",
    check_first="whether the signal moves: sensing line, hold mode, then signal loop and communication",
)

EFFLUENT_GAP = Finding(
    tag="AIT-541",
    instrument="AE-541",
    kind="gap",
    severity="watch",
    crossed=date(2026, 11, 9),
    start=at(9, "08:00"),
    end=at(13, "12:00"),
    reference="own recording",
    unit="pH",
    evidence="No good reading for 4 d 4 h from Mon 9 Nov 08:00; 400 readings arrived marked bad.",
    check_first="communication and power of the transmitter or its panel, then the recorder",
)

TURBIDITY_DRIFT = Finding(
    tag="AIT-130",
    instrument="AE-130",
    kind="drift",
    severity="watch",
    crossed=date(2026, 11, 13),
    start=at(1, "00:00") - timedelta(days=18),
    end=None,
    reference="own history",
    unit="NTU",
    evidence="Reads 0.021 NTU above where its own past lets expect it (95 % interval 0.012 to 0.030), "
    "changing by +0.0049 NTU a week since about 14 Oct 2026; 74 days since its last service. One sensor "
    "alone cannot tell a drift from a slow change of the water: take a grab.",
    check_first="sample flow and bubbles, then a clean cell or window, then a secondary standard",
    estimate=0.021,
    ci_low=0.012,
    ci_high=0.03,
    rate_per_week=0.0049,
    tolerance=0.02,
    tolerance_source="plant practice",
    reaches_tolerance_on=date(2026, 11, 21),
)

TEMPERATURE_BEYOND = Finding(
    tag="TIT-131",
    instrument="TE-131",
    kind="out_of_range",
    severity="note",
    crossed=date(2026, 11, 10),
    start=at(10, "10:00"),
    end=at(10, "11:15"),
    reference="instrument's span",
    unit="degC",
    evidence="Read −20.0 °C for 1 h 15 min, beyond its span of 0.0 °C to 40.0 °C.",
    check_first="wiring and signal loop (open circuit, loss of power), then the configured span",
    status="cleared",
)

CHLORINE_BEYOND = Finding(
    tag="AIT-131",
    instrument="AE-131",
    kind="out_of_range",
    severity="watch",
    crossed=date(2026, 11, 14),
    start=at(14, "21:00"),
    end=at(14, "21:30"),
    reference="instrument's span",
    unit="mg/L",
    evidence="Read below its span for 30 min.",
    check_first="wiring",
)

WELL_GAPS = tuple(
    Finding(
        tag=tag,
        instrument=device,
        kind="gap",
        severity="note",
        crossed=date(2026, 11, 11),
        start=at(11, "02:15"),
        end=at(11, "07:15"),
        reference="own recording",
        evidence="No good reading for 5 h from Wed 11 Nov 02:15; none was stored.",
        check_first="",
        verdict="confirmed",
    )
    for tag, device in (("FIT-201", "FE-201"), ("LIT-201", "LE-201"), ("FIT-202", "FE-202"))
)

ALL = (
    CHLORINE_DRIFT,
    PH_FROZEN,
    EFFLUENT_GAP,
    TURBIDITY_DRIFT,
    CHLORINE_BEYOND,
    TEMPERATURE_BEYOND,
    *WELL_GAPS,
)
