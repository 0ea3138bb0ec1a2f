"""A column of two numbers: neither is a sentinel for lying apart from the other.

Fresh water's salinity at its display's resolution (reserve system, station lkspowq, 2021: 13,237 times 0.1
and 5,376 times 0.2), and a pump that delivers 50 or nothing.
"""

import pytest

from pipeline.setup.sentinels import candidates


@pytest.mark.parametrize(
    "texts", [["0.1"] * 900 + ["0.2"] * 400, ["0.0"] * 37 + ["0.1"] * 900, ["0"] * 500 + ["50"] * 300]
)
def test_neither_is_a_sentinel(signal, texts):
    assert candidates(signal(texts)) == ()


@pytest.mark.parametrize("number", ["-99", "9999"])
def test_what_recorders_write_still_is(signal, number):
    assert [str(one) for one in candidates(signal(["0.0"] * 300 + [number] * 4))] == [f"{number} (4 times)"]


def test_a_number_far_from_a_constant_still_is(signal):
    assert [one.number for one in candidates(signal(["7.2"] * 300 + ["-1210.73"] * 4))] == [-1210.73]
