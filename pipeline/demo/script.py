"""Script: the plant's history, written by hand: what breaks, what the water does, what people do.

All times are wall clock. The seed never changes this page; it changes noise and sizes elsewhere.
"""

from dataclasses import dataclass

from pipeline.demo.calendar import END


@dataclass(frozen=True)
class Fault:
    """One thing wrong with one instrument (or with the way its readings travel).

    Parameters
    ----------
    name : str
        Short name; `fault_id` in the truth.
    tags : tuple of str
        Tags it touches; one row of truth each.
    kind : str
        As in findings.csv.
    start, end : str
        Wall clock; `END` = still going on.
    size : float
        Meaning by kind: drift, step = error at the end [tag's unit, or share if `relative`];
        noisy, spikes = size of the noise or spike [tag's unit]; damped = time constant [h];
        out_of_range, pegged = the value shown [tag's unit].
    relative : bool
        Whether `size` is a share of the reading.
    bend : float
        Drift: 1 = straight; above 1 = slow first, fast later (fouling).
    note : str
        What a technician would find.
    serviced : str
        What ended it, as the calibration log calls it; blank = nobody wrote it down.
    """

    name: str
    tags: tuple[str, ...]
    kind: str
    start: str
    end: str
    size: float = 0.0
    relative: bool = False
    bend: float = 1.0
    note: str = ""
    serviced: str = ""


@dataclass(frozen=True)
class Excursion:
    """A stretch in which the water itself goes where it should not.

    Parameters
    ----------
    tag : str
        Where it shows.
    start, end : str
        Wall clock; beyond the limit at start <= time < end.
    edge, peak : float
        The water's value at either edge and in the middle [tag's unit].
    shoulder_minutes : float
        How long it takes to get there and back [min].
    cause : str
        One phrase.
    """

    tag: str
    start: str
    end: str
    edge: float
    peak: float
    shoulder_minutes: float
    cause: str


@dataclass(frozen=True)
class Operation:
    """Something people did on purpose; not a fault. `logged` = they wrote it down."""

    kind: str
    subject: str
    start: str
    end: str
    note: str
    logged: tuple[str, ...] = ()


WELL_TAGS = ("FIT-201", "LIT-201", "YS-201", "FIT-202", "LIT-202", "YS-202", "AIT-201")
LIFT_TAGS = ("LIT-401", "YS-401", "LIT-402", "YS-402", "LIT-403", "LIT-404", "LIT-405", "LIT-406")

FAULTS = (
    # --- the last week -----------------------------------------------------------------------------------
    Fault("entry-chlorine-low", ("AIT-131",), "drift", "2026-10-05T00:00", END, -0.21,
          note="membrane ageing; reads lower every week"),
    Fault("effluent-ph-high", ("AIT-541",), "drift", "2026-09-21T00:00", END, 0.40,
          note="reference electrode ageing; reads higher every week"),
    Fault("raw-ph-low", ("AIT-102",), "drift", "2026-09-21T00:00", END, -0.48,
          note="coated electrode; reads lower every week"),
    Fault("depot-tank-frozen", ("LIT-302",), "frozen", "2026-11-12T16:00", "2026-11-13T11:00",
          note="remote unit kept sending its last value"),
    Fault("wells-silent", WELL_TAGS, "gap", "2026-11-11T09:00", "2026-11-11T14:00",
          note="radio link to the wells lost"),
    Fault("finished-temperature-missing", ("TIT-131",), "gap", "2026-11-14T09:00", "2026-11-14T18:00",
          note="channel dropped from the recorder"),
    Fault("effluent-temperature-open", ("TIT-541",), "out_of_range", "2026-11-10T10:00", "2026-11-10T12:30",
          250.0, note="open circuit"),
    # --- the months before -------------------------------------------------------------------------------
    Fault("far-pressure-frozen", ("PIT-301",), "frozen", "2026-10-06T02:00", "2026-10-06T14:00",
          note="remote unit kept sending its last value"),
    Fault("settled-copied", ("AIT-112",), "copied", "2026-09-08T09:00", "2026-09-11T15:00",
          note="train 2 shows the signal of train 1 after work in the panel"),
    Fault("lift-silent", LIFT_TAGS, "gap", "2026-08-26T02:00", "2026-08-26T09:00",
          note="radio repeater of the lift stations without power"),
    Fault("uvt-fouled", ("AIT-531",), "drift", "2026-07-20T00:00", "2026-09-14T10:00", -5.6,
          bend=1.3, note="scale on the optical window", serviced="cleaning"),
    Fault("far-chlorine-step", ("AIT-301",), "step", "2026-07-15T10:00", "2026-08-12T10:00", 0.14,
          note="calibrated against a grab that had stood too long", serviced="calibration"),
    Fault("lift-3-spikes", ("LIT-403",), "spikes", "2026-07-06T00:00", "2026-07-13T11:00", 2.5,
          note="loose wire"),
    Fault("well-chlorine-frozen", ("AIT-201",), "frozen", "2026-06-29T08:00", "2026-06-30T14:00",
          note="analyser stopped; last value held"),
    Fault("digester-sentinel", ("TIT-521",), "gap", "2026-05-26T13:00", "2026-05-26T18:00", -99.0,
          note="controller wrote its placeholder instead of a reading"),
    Fault("settled-1-damped", ("AIT-111",), "damped", "2026-05-04T00:00", "2026-05-20T10:00", 5.0,
          note="sample line almost blocked", serviced="cleaning"),
    Fault("lift-5-pegged", ("LIT-405",), "pegged", "2026-04-27T05:00", "2026-04-27T11:00", 20.0,
          note="water in the junction box"),
    Fault("finished-ph-high", ("AIT-132",), "drift", "2026-02-23T00:00", "2026-04-20T10:00", 0.34,
          note="reference electrode ageing", serviced="calibration"),
    Fault("reactor-1-noisy", ("AIT-511",), "noisy", "2026-03-16T00:00", "2026-04-06T10:00", 0.45,
          note="air bubbles on the probe", serviced="cleaning"),
    Fault("effluent-turbidity-fouled", ("AIT-542",), "drift", "2025-12-08T00:00", "2026-02-09T10:00", 0.55,
          relative=True, bend=1.5, note="growth on the window", serviced="cleaning"),
    Fault("filter-3-missing", ("AIT-123",), "gap", "2026-01-20T08:00", "2026-01-20T11:00",
          note="turbidimeter without power"),
)  # fmt: skip

EXCURSIONS = (
    Excursion("AIT-123", "2026-11-11T13:15", "2026-11-11T15:00", 0.40, 0.52, 30,
              "breakthrough late in the run of filter 3; a backwash follows"),
    Excursion("LIT-404", "2026-11-12T09:15", "2026-11-12T11:30", 10.0, 11.2, 30, "storm inflow"),
    Excursion("LIT-404", "2026-11-12T15:15", "2026-11-12T16:00", 9.9, 10.3, 30, "storm inflow, second burst"),
    Excursion("AIT-131", "2026-11-14T02:00", "2026-11-14T05:30", 0.58, 0.50, 20,
              "hypochlorite feed lost its prime"),
    Excursion("LIT-404", "2026-05-26T03:00", "2026-05-26T04:30", 10.1, 10.8, 30, "storm inflow"),
    Excursion("AIT-122", "2026-06-18T14:00", "2026-06-18T15:00", 0.38, 0.43, 30,
              "flow surge when the raw water pumps were exchanged"),
    Excursion("AIT-531", "2026-04-14T10:00", "2026-04-14T15:00", 51.5, 49.5, 30,
              "solids carried over from reactor 2"),
    Excursion("AIT-131", "2026-02-17T03:00", "2026-02-17T05:00", 0.41, 0.36, 20,
              "hypochlorite feed lost its prime"),
)  # fmt: skip

# Hypochlorite reaches the entry point this long after it was fed (contact time in the clearwell).
CONTACT_MINUTES = 105

# (filter, wall clock): washes that people started; all others follow head loss and run time.
ORDERED_WASHES = (
    (2, "2026-06-17T10:00"),
    (2, "2026-06-18T15:30"),
    (3, "2026-11-10T08:00"),
    (3, "2026-11-11T15:30"),
)

WELL_SWITCH = "2026-08-10T09:00"
DOSE_RAISED = "2026-05-18T10:00"
DOSE_RAISE_MG_L = 0.08
FILTER_2_OUT = ("2026-10-26T07:00", "2026-11-04T07:00")
BOOSTER_OUT = ("2026-07-04T12:00", "2026-07-04T19:00")

OPERATIONS = (
    Operation("filter_out_of_service", "YS-122", *FILTER_2_OUT, "filter 2 drained, media inspected",
              logged=("FIT-122", "AIT-122", "PDIT-122")),
    Operation("source_switch", "wells", WELL_SWITCH, "2026-08-10T09:30", "duty changed from well 1 to well 2",
              logged=("wells",)),
    Operation("set_point", "AIT-131", DOSE_RAISED, "2026-05-18T10:30", "entry chlorine raised by 0.08 mg/L",
              logged=("FIT-132",)),
    Operation("booster_out_of_service", "YS-311", *BOOSTER_OUT, "booster tripped and was reset by hand"),
    Operation("dry_spell", "intake", "2026-07-06T00:00", "2026-08-14T15:00", "no rain for five weeks"),
    Operation("turnover", "intake", "2025-10-06T12:00", "2025-10-26T12:00", "the reservoir turns over"),
    Operation("turnover", "intake", "2026-10-07T12:00", "2026-10-27T12:00", "the reservoir turns over"),
    Operation("holiday", "distribution", "2025-11-27T00:00", "2025-11-28T00:00", "holiday demand"),
    Operation("holiday", "distribution", "2026-07-04T00:00", "2026-07-05T00:00", "holiday demand"),
)  # fmt: skip
