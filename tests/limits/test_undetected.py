"""Distribution residual: V of 40 CFR 141.72(b)(3), and two months on end."""

from datetime import date, timedelta

import pytest

from pipeline.disinfection.residual import undetected_pct

JUNE = (date(2026, 6, 1), date(2026, 6, 30))
LIMIT = {"allow": 5, "low": 0.05, "basis": "lab"}


# V = (c + d + e) / (a + b) x 100; letters of 40 CFR 141.72(b)(3), the quotient from memory (a missing graphic
# in the copy that was read). a = 20, c = 1, others 0: 5.0 %; the others computed.
@pytest.mark.parametrize(
    ("a", "b", "c", "d", "e", "v"),
    [(20, 0, 1, 0, 0, 5.0), (18, 2, 0, 1, 1, 10.0), (0, 4, 0, 0, 1, 25.0), (19, 0, 1, 0, 0, 100 / 19)],
)
def test_v(a, b, c, d, e, v):
    assert undetected_pct(a, b, c, d, e) == pytest.approx(v, abs=1e-12)


def test_without_samples_there_is_no_v():
    assert undetected_pct(0, 0, 0, 0, 0) is None


def _month(number, count, absent):
    """One sample a day; the first `absent` of them "less than 0.05"."""
    first = date(2026, number, 1)
    return {first + timedelta(days=k): "<0.05" if k < absent else 0.4 for k in range(count)}


@pytest.fixture
def judge(make, judged, sampled):
    def assess(results, hpc=None, **limit):
        end = make.local(2026, 7, 1)
        second = sampled(hpc, end, tag="HPC-1") if hpc else None
        return judged.by_case(
            "undetected_two_months", sampled(results, end), *JUNE, second=second, **(LIMIT | limit)
        )

    return assess


@pytest.mark.parametrize(
    ("may", "june", "status", "value"),
    [
        (1, 1, "near", 5.0),  # 1 of 20 in both: 5 % complies
        (2, 2, "outside", 10.0),  # 2 of 20 in both
        (2, 1, "near", 5.0),  # only one month beyond
        (0, 2, "within", 0.0),
        (2, 0, "within", 0.0),
    ],
)
def test_two_months_on_end(judge, may, june, status, value):
    found = judge(_month(5, 20, may) | _month(6, 20, june))
    assert (found.status, found.value, found.unit) == (status, value, "%")


def test_few_bacteria_count_as_a_residual(judge):
    """HPC at most 500 in a millilitre counts as detectable; 501 does not."""
    results = _month(5, 20, 2) | _month(6, 20, 2)
    low = {day: 500 for day, told in results.items() if told != 0.4}
    assert judge(results, low).value == 0.0
    high = {day: 501 for day, told in results.items() if told != 0.4}
    assert judge(results, high).value == 10.0


def test_bacteria_alone_are_samples_too(judge):
    """18 with a residual in each month and two plates without one, both above 500: 2 of 20."""
    results = _month(5, 18, 0) | _month(6, 18, 0)
    plates = {date(2026, m, d): 900 for m in (5, 6) for d in (28, 29)}
    found = judge(results, plates)
    assert (found.value, found.status) == (10.0, "outside")


def test_a_result_below_what_the_method_detects_is_none(judge):
    results = {
        day: 0.04 if told == "<0.05" else told for day, told in (_month(5, 20, 2) | _month(6, 20, 2)).items()
    }
    assert judge(results).status == "outside"


def test_no_samples_or_too_few_are_not_assessable(judge):
    assert judge({}).status == "not assessable"
    assert judge(_month(6, 3, 0), at_least=5).status == "not assessable"
    assert judge(_month(6, 3, 0), at_least=4).lacks == "3 of 4 samples"
    four_before = _month(5, 3, 3) | _month(6, 20, 2)
    assert judge(four_before, at_least=4).lacks == "the month before 3 of 4 samples"
    # One month beyond, of the one before it nothing is known.
    assert judge(_month(6, 20, 2)).status == "not assessable"


def test_a_month_within_is_enough_whatever_the_one_before_was(judge):
    assert judge(_month(6, 20, 0)).status == "within"
