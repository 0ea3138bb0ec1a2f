"""The bench and the real job say the same of the same sensors."""

import pytest

from benchmarks.detection_job import by_job, in_memory, sample, write_plant
from benchmarks.families_sensors import ZONE
from pipeline.clock import week_named


@pytest.mark.slow
def test_exports_through_the_real_job_are_judged_as_in_memory(tmp_path):
    made = sample("B", sensors=9)
    write_plant(tmp_path / "plant", made)
    told = by_job(tmp_path / "plant", weeks=2)
    for label, findings in told.items():
        assert findings == in_memory(made, week_named(label, ZONE)), label
    assert sum(map(len, told.values())) >= 4
    assert {name.split(".")[1] for findings in told.values() for name, *_ in findings} >= {"drift", "frozen"}
