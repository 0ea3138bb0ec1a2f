"""Cut short: who reads the first lines of an answer and goes away gets no fault of ours."""

import subprocess
import sys
from collections.abc import Callable

from pipeline.config.load import Plant
from pipeline.intake import take_in


def test_a_reader_that_goes_away_is_no_fault(make_plant: Callable[..., Plant]) -> None:
    lines = [f"2026-11-{1 + k // 1440:02d} {k // 60 % 24:02d}:{k % 60:02d},{k % 7}" for k in range(20_000)]
    plant = make_plant(filters="\n".join(["Time,Filter turbidity", *lines, ""]))
    take_in(plant)
    command = [
        sys.executable,
        "-m",
        "pipeline.cli",
        "--plant",
        str(plant.folder),
        "query",
        "SELECT * FROM trends",
    ]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(command, **pipes) as asked:  # type: ignore[call-overload]
        assert "tag" in asked.stdout.readline()
        asked.stdout.close()
        told = asked.stderr.read()
    assert (asked.returncode, told) == (0, "")
