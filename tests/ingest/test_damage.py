"""Damaged exports: whatever happened to the bytes, a reading is read or refused; nothing else happens."""

from collections.abc import Callable
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.config.load import Plant
from pipeline.errors import RefusedError
from pipeline.ingest.export import Export, read_export

SAMPLES = [path.read_bytes() for path in sorted((Path(__file__).parent / "samples").glob("*.csv"))]

pieces = st.one_of(
    st.binary(max_size=4),
    st.sampled_from(
        [
            b"\n",
            b"\r\n",
            b",",
            b";",
            b'"',
            b"\x00",
            b"\xef\xbb\xbf",
            b"\xff",
            b"24:00",
            b"1e999",
            b"\xe2\x80\xa8",
        ]
    ),
)
damage = st.tuples(st.integers(0, 400), st.integers(0, 6), pieces)


def _damaged(data: bytes, places: list[tuple[int, int, bytes]]) -> bytes:
    for start, length, piece in places:
        start %= len(data) + 1
        data = data[:start] + piece + data[start + length :]
    return data


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(SAMPLES), st.lists(damage, min_size=1, max_size=5))
def test_damage_is_refused_line_by_line_or_as_a_whole(
    make_plant: Callable[..., Plant], data: bytes, places: list[tuple[int, int, bytes]]
) -> None:
    plant = make_plant(reading='date_order = "month_first"')
    try:
        export = read_export(_damaged(data, places), "x.csv", "s", plant)
    except RefusedError as refused:
        assert refused.fault.problem and refused.fault.remedy
        return
    _is_sound(export)


def _is_sound(export: Export) -> None:
    readings = export.readings
    assert (
        readings["tag"].null_count() == readings["time"].null_count() == readings["quality"].null_count() == 0
    )
    assert readings["value"].is_nan().sum() == readings["value"].is_infinite().sum() == 0
    assert readings.filter(quality="good")["value"].null_count() == 0
    assert export.refused["reason"].null_count() == export.refused["line"].null_count() == 0
    assert readings["time"].dt.year().is_between(1969, 2200).all()
