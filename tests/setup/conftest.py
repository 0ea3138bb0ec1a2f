"""Columns of an export, made in memory."""

from collections.abc import Callable
from datetime import datetime, timedelta

import polars as pl
import pytest

from pipeline.ingest.values import number_of
from pipeline.setup.guess import Signal

START = datetime(2026, 7, 6)
MakeSignal = Callable[..., Signal]


@pytest.fixture(scope="session")
def signal() -> MakeSignal:
    """A column of texts, every `step_s` seconds or at the given `times` [s after the start]."""

    def make(texts, name="Column", step_s=900, times=None, mark="."):
        seconds = times if times is not None else [k * step_s for k in range(len(texts))]
        stamps = [START + timedelta(seconds=float(second)) for second in seconds]
        texts = [str(text) for text in texts]
        frame = pl.DataFrame(
            {"time": stamps, "text": texts, "number": [number_of(text, mark) for text in texts]},
            schema={"time": pl.Datetime("us"), "text": pl.String, "number": pl.Float64},
        )
        return Signal(name, frame, mark)

    return make
