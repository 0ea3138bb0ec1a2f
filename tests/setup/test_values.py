"""States, sentinels, spans, steps and left-out columns of columns made by hand."""

import numpy as np
import pytest

from pipeline.setup import twins
from pipeline.setup.columns import is_reading, left_out
from pipeline.setup.sentinels import candidates, without
from pipeline.setup.span import resolution, span
from pipeline.setup.states import states

RANDOM = np.random.default_rng(7)
LEVEL = [f"{value:.2f}" for value in 4 + RANDOM.normal(0, 0.4, 400)]


@pytest.mark.parametrize(
    ("texts", "drafted"),
    [
        (["Off", "On"] * 20, "0=Off|1=On"),
        (["Running", "Stopped", "Fault"] * 20, "0=Stopped|1=Running|2=Fault"),
        (["0", "1"] * 20, "0=Off|1=On"),
        (["FILL", "REACT", "DECANT"] * 20, "0=DECANT|1=FILL|2=REACT"),
        (["On", "oN", "ON", "on", "off", "Off", "oFF", "OFF"] * 9, "0=OFF|1=ON"),
        (["1", "2", "4"] * 20, "1=State 1|2=State 2|4=State 4"),
        (["0"] * 30, "0=Off|1=On"),
    ],
)
def test_states(signal, texts, drafted):
    assert states(signal(texts)).value == drafted


@pytest.mark.parametrize(
    "texts", [LEVEL, ["lksbawq"] * 30, ["<0> (CND)", "<0>"] * 20, ["7.2", "7.3"] * 20, ["1", "2"]]
)
def test_no_states(signal, texts):
    assert states(signal(texts)) is None


@pytest.mark.parametrize(
    ("extra", "found"),
    [
        (["-99.0"] * 5, [-99.0]),
        (["9999"], [9999.0]),
        (["-99", "9999"], [-99.0, 9999.0]),
        (["-1210.73"] * 4, [-1210.73]),
        (["-1210.73"] * 2, []),  # twice may be chance
        (["0"] * 50, []),  # a pump that stands delivers nothing
        (["6.1", "1.9"], []),
    ],
)
def test_sentinels(signal, extra, found):
    assert [one.number for one in candidates(signal(LEVEL + extra))] == found


def test_a_pump_that_stands_delivers_nothing_and_that_is_a_reading(signal):
    flow = [f"{value:.0f}" for value in 500 + RANDOM.normal(0, 3, 300)]
    assert candidates(signal(flow + ["0"] * 50)) == ()


def test_storms_do_not_hide_a_sentinel_below(signal):
    """A turbidity of some NTU with spikes to 3185, and -1211 forty-five times."""
    turbidity = [f"{abs(value):.0f}" for value in RANDOM.normal(0, 8, 2000)]
    spoilt = signal([*turbidity, "812", "1400", "3185", *["-1211"] * 45])
    assert [one.number for one in candidates(spoilt)] == [-1211.0]


@pytest.mark.parametrize("ends", [(0, 100), (-30, 40), (-150, 50)])
def test_a_number_within_the_rest_is_a_reading(signal, ends):
    """99 %, -99 on a scale that goes below it: whatever it looks like."""
    texts = [f"{value:.1f}" for value in np.linspace(*ends, 300)] + ["99" if ends[1] == 100 else "-9"] * 3
    assert candidates(signal(texts)) == ()


def test_a_sentinel_does_not_spoil_the_span(signal):
    spoilt = signal([*LEVEL, *["-99.0"] * 5])
    low, high = span(without(spoilt, candidates(spoilt)), "level")
    assert (low.value, high.value) == ("0", "10")


@pytest.mark.parametrize(
    ("texts", "measure", "ends"),
    [
        (["0.02", "0.31"], "turbidity", ("0", "10")),  # a bad day shows a hundred times as much
        (["2", "31"], "turbidity", ("0", "100")),
        (["0.4", "0.9"], "chlorine", ("0", "5")),
        (["6.8", "7.9"], "ph", ("0", "14")),
        (["12", "980"], "flow", ("0", "2000")),
        (["-4.5", "21"], "temperature", ("-10", "50")),
        (["99.7", "100.3"], "uv_transmittance", ("0", "200")),
        (["0", "0"], "rain", ("0", "1")),
    ],
)
def test_spans_hold_what_was_seen_with_room(signal, texts, measure, ends):
    low, high = span(signal(texts), measure)
    assert (low.value, high.value) == ends


@pytest.mark.parametrize(
    ("texts", "mark", "step"),
    [
        (LEVEL, ".", "0.01"),
        ([f"{k * 0.05:.2f}" for k in range(40)], ".", "0.05"),
        ([str(k) for k in range(40)], ".", "1"),
        ([f"{k * 0.1:.3f}" for k in range(40)], ".", "0.1"),  # trailing zeros say nothing
        ([f"{k},{k % 10}" for k in range(40)], ",", "0.1"),
        ([repr(k / 7) for k in range(1, 40)], ".", ""),  # calculated, not measured
    ],
)
def test_resolution(signal, texts, mark, step):
    assert resolution(signal(texts, mark=mark)).value == step


def test_flag_columns_become_one_pattern(signal):
    columns = [
        signal(["lksbawq"] * 20, "StationCode"),
        signal(["2.4", "2.5"] * 10, "Temp"),
        signal(["<0> (CND)", "<0>"] * 10, "F_Temp"),
        signal(["7.8", "7.7"] * 10, "pH"),
        signal(["<0>", "<1> [GQR]"] * 10, "F_pH"),
        signal(["{CWE}"] * 20, "F_Record"),
    ]
    assert [is_reading(column) for column in columns] == [False, True, False, True, False, False]
    assert [one.pattern for one in left_out(columns)] == ["F_*", "StationCode"]


def test_a_pattern_never_catches_a_column_of_readings(signal):
    columns = [
        signal(LEVEL, "F_1"),
        signal(LEVEL, "Temp"),
        signal(LEVEL, "pH"),
        signal(["<0>", "<1> [X]"] * 10, "F_Temp"),
        signal(["<0>", "<1> [X]"] * 10, "F_pH"),
    ]
    assert [one.pattern for one in left_out(columns)] == ["F_Temp", "F_pH"]


def test_a_pattern_of_a_name_with_stars_means_that_name(signal):
    columns = [signal(LEVEL, "Flow"), signal(["a*b!"] * 20, "Note [*]")]
    assert [one.pattern for one in left_out(columns)] == ["Note [[][*]]"]


def test_missing_marks_do_not_make_a_column_text(signal):
    assert is_reading(signal(["NA"] * 60 + LEVEL[:20]))


def test_the_first_look_at_all_pairs_misses_none() -> None:
    """What is worth a closer look holds every pair that the closer look finds."""
    rng = np.random.default_rng(7)
    for count in (80, 700, 2500):
        walk = rng.normal(size=(count, 6)).cumsum(axis=0)
        walk[:, 1] = np.where(np.arange(count) % 130 == 129, 99.0, walk[:, 0])
        walk[:, 2] = walk[:, 0] * 3 + rng.normal(size=count) * 0.1
        walk[::5, 3:5] = np.nan
        walk[:, 4] = walk[:, 3] * 2
        likely = twins._likely(walk)
        pairs = [(first, second) for second in range(6) for first in range(second)]
        found = [pair for pair in pairs if twins._pair("a", "b", walk[:, pair[0]], walk[:, pair[1]])]
        assert {(0, 1), (0, 2), (3, 4)} <= set(found)
        assert all(likely[pair] for pair in found)
