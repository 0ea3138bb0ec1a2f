"""Recording: steps, heartbeats and thinned-out records, from recorders played by hand."""

import numpy as np
import pytest

from pipeline.setup.recording import recording

RANDOM = np.random.default_rng(11)


def _walk(count, step=0.05):
    return 5 + np.cumsum(RANDOM.normal(0, step, count))


def _on_change(values, step_s, deadband, heartbeat_s=None):
    """Write a value down when it has left the deadband, and after the heartbeat at the latest."""
    times, kept = [0], [values[0]]
    for k, value in enumerate(values[1:], 1):
        late = heartbeat_s is not None and k * step_s - times[-1] >= heartbeat_s
        if abs(value - kept[-1]) > deadband or late:
            times.append(k * step_s)
            kept.append(value if abs(value - kept[-1]) > deadband else kept[-1])
    return [f"{value:.2f}" for value in kept], times


@pytest.mark.parametrize("step_s", [1, 60, 900, 3600])
def test_intervals(signal, step_s):
    found = recording(signal([f"{v:.2f}" for v in _walk(300)], step_s=step_s), is_state=False)
    assert (found.step_s.value, found.recording.value, found.thinned) == (str(step_s), "interval", "")


def test_holes_and_late_stamps_leave_an_interval_an_interval(signal):
    times = [k * 900 + int(RANDOM.integers(0, 20)) for k in range(400) if RANDOM.random() > 0.1]
    found = recording(signal([f"{v:.2f}" for v in _walk(len(times))], times=times), is_state=False)
    assert found.recording.value == "interval"
    assert float(found.step_s.value) == pytest.approx(900, rel=0.02)


def test_a_deadband_without_heartbeat(signal):
    texts, times = _on_change(_walk(4000), 60, deadband=0.2)
    found = recording(signal(texts, times=times), is_state=False)
    assert (found.recording.value, found.heartbeat_s.value) == ("on change", "")
    assert "cannot be told" in found.thinned
    assert "looks like a steady one" in found.heartbeat_s.evidence


@pytest.mark.parametrize("heartbeat_s", [600, 3600])
def test_a_deadband_with_heartbeat(signal, heartbeat_s):
    texts, times = _on_change(_walk(6000), 60, deadband=0.4, heartbeat_s=heartbeat_s)
    found = recording(signal(texts, times=times), is_state=False)
    assert (found.recording.value, found.heartbeat_s.value) == ("on change", str(heartbeat_s))


def test_a_pump_with_an_hourly_heartbeat(signal):
    """Hourly on the hour, and at once when it starts or stops: mostly regular, and still on change."""
    switches = sorted(RANDOM.choice(np.arange(7, 20_000, 13) * 60, 60, replace=False).tolist())
    times = sorted({k * 3600 for k in range(333)} | set(switches))
    texts = [str(sum(s <= t for s in switches) % 2) for t in times]
    found = recording(signal(texts, times=times), is_state=True)
    assert (found.recording.value, found.heartbeat_s.value) == ("on change", "3600")


def test_a_pump_that_mostly_switches_on_the_hour(signal):
    """What is written off the hour, and only because it changed, gives the heartbeat away."""
    switches = sorted([*(k * 3600 for k in range(5, 300, 8)), *(k * 3600 + 1800 for k in range(20, 300, 60))])
    times = sorted({k * 3600 for k in range(300)} | set(switches))
    texts = [str(sum(s <= t for s in switches) % 2) for t in times]
    found = recording(signal(texts, times=times), is_state=True)
    assert (found.recording.value, found.heartbeat_s.value) == ("on change", "3600")


def test_a_staircase_is_thinned_out_though_it_is_regular(signal):
    """A recorder that holds its last value within the deadband and writes it at every step."""
    held = [value := 5.0]
    for now in _walk(2000)[1:]:
        value = now if abs(now - value) > 0.3 else value
        held.append(value)
    found = recording(signal([f"{v:.2f}" for v in held]), is_state=False)
    assert found.recording.value == "interval"
    assert "cannot be told" in found.thinned


def test_a_pump_that_stands_is_not_thinned_out(signal):
    flow = np.where(np.arange(1000) % 10 < 2, 100 + RANDOM.normal(0, 3, 1000), 0.0)
    assert recording(signal([f"{v:.1f}" for v in flow]), is_state=False).thinned == ""


def test_too_few_to_tell(signal):
    found = recording(signal(["1.0", "1.1"]), is_state=False)
    assert (found.step_s.value, found.step_s.evidence) == ("900", "too few readings to tell the step")
