"""VUS-PR against its definition row by row (Paparrizos et al. 2022), and at its ends."""

import numpy as np
import pytest

from benchmarks.open_records_vus import range_pr, segments, vus_pr, widened

RANDOM = np.random.default_rng(3)


def some_labels(n: int) -> np.ndarray:
    labels = np.zeros(n, dtype=bool)
    for begin in range(100, n - 60, 450):
        labels[begin : begin + 5 + begin % 37] = True
    return labels


def by_definition(labels: np.ndarray, score: np.ndarray, buffer: int) -> float:
    soft = widened(labels, buffer)
    falling = np.sort(score)[::-1]
    recall, precision = [0.0], [1.0]
    for limit in falling[np.linspace(0, len(score) - 1, 250).astype(int)]:
        said = score >= limit
        hits = (soft * said).sum()
        touched = [(soft * said)[first : last + 1].sum() > 0 for first, last in segments(soft > 0)]
        recall.append(min(hits / ((labels.sum() + soft.sum()) / 2), 1.0) * np.mean(touched))
        precision.append(hits / said.sum())
    area = 0.0
    for k in range(1, len(recall)):
        area += (recall[k] - recall[k - 1]) * (precision[k] + precision[k - 1]) / 2
    return area


@pytest.mark.parametrize("buffer", [0, 1, 2, 30])
@pytest.mark.parametrize("strength", [0.0, 1.0, 3.0])
def test_the_definition(buffer: int, strength: float) -> None:
    labels = some_labels(2000)
    score = np.round(RANDOM.normal(size=2000) + strength * labels, 1)  # rounded: many ties
    assert range_pr(labels, score, buffer) == pytest.approx(by_definition(labels, score, buffer), abs=1e-12)


def test_labels_fall_off_as_a_square_root() -> None:
    """Half of a buffer of eight on either side: sqrt(1 - d/8) at distance d, and 1 inside."""
    labels = np.zeros(20, dtype=bool)
    labels[8:11] = True
    soft = widened(labels, 8)
    assert soft[8:11].tolist() == [1.0, 1.0, 1.0]
    assert soft[[7, 6, 5, 4]] == pytest.approx(np.sqrt([7 / 8, 6 / 8, 5 / 8, 4 / 8]))
    assert soft[[11, 12, 13]] == pytest.approx(np.sqrt([7 / 8, 6 / 8, 5 / 8]))
    assert soft[[3, 14]].tolist() == [0.0, 0.0]
    assert widened(labels, 0).tolist() == labels.astype(float).tolist()


def test_a_perfect_score_a_random_one_and_a_wrong_one() -> None:
    labels = some_labels(20_000)
    perfect, wrong = labels.astype(float), 1.0 - labels
    assert range_pr(labels, perfect, 0) == pytest.approx(1.0)
    share = labels.mean()
    random = vus_pr(labels, RANDOM.random(20_000), widest=20)
    assert random is not None and share / 2 < random < 3 * share
    worst = vus_pr(labels, wrong, widest=0)
    assert worst is not None and worst < 2 * share


def test_without_an_event_there_is_no_figure() -> None:
    assert vus_pr(np.zeros(100, dtype=bool), RANDOM.random(100)) is None
