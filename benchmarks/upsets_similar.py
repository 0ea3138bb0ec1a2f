"""Windows that recur: six kinds of upset, six times each, among twenty others in two years of six tags."""

from dataclasses import dataclass

import numpy as np

from benchmarks.families import FAMILIES, STEPS_A_DAY, Floats
from benchmarks.upsets_families import as_departures, clock, quiet
from pipeline.upsets.similar import LEAD, WINDOW, best, scores

TAGS, DAYS = 6, 730
KINDS, TIMES, OTHERS = 6, 6, 20
NEAR = WINDOW // 2


@dataclass(frozen=True)
class Pattern:
    """What a kind of upset does to each tag: size, when, how fast, how long; times in quarter hours."""

    size: Floats
    begin: Floats
    rise: Floats
    last: Floats

    def course(self, strength: float, warp: float, length: int) -> Floats:
        """Return the course of every tag, `warp` times as slow."""
        at = np.arange(length)[None, :] / warp
        since = at - self.begin[:, None]
        rising = np.where(since > 0, 1 - np.exp(-np.maximum(since, 0) / self.rise[:, None]), 0.0)
        over = np.maximum(since - self.last[:, None], 0.0)
        return strength * self.size[:, None] * rising * np.exp(-over / self.rise[:, None])


def pattern(random: np.random.Generator) -> Pattern:
    """Draw a kind of upset that touches three to five tags."""
    touched = np.zeros(TAGS)
    touched[random.permutation(TAGS)[: random.integers(3, 6)]] = 1.0
    size = touched * random.choice([-1.0, 1.0], TAGS) * random.uniform(0.5, 1.5, TAGS)
    return Pattern(
        size / np.sqrt((size**2).sum() / touched.sum()),
        random.uniform(0, 16, TAGS),
        random.uniform(1, 8, TAGS),
        random.uniform(8, 56, TAGS),
    )


def world(seed: int, name: str, size_sd: float) -> tuple[Floats, list[tuple[int, int]]]:
    """Return departures of two years, and kind and beginning of each recurring upset."""
    random = np.random.default_rng(seed)
    family, grid = FAMILIES[name], clock(DAYS)
    values = np.stack([quiet(random, family, grid) for _ in range(TAGS)])
    kinds = [pattern(random) for _ in range(KINDS)]
    drawn = [(kind, kinds[kind]) for kind in range(KINDS) for _ in range(TIMES)]
    drawn += [(-1, pattern(random)) for _ in range(OTHERS)]
    days = random.permutation(np.arange(95, DAYS - 3, 3))[: len(drawn)]
    happened = []
    for (kind, one), day in zip(drawn, days, strict=True):
        at = int(day) * STEPS_A_DAY + int(random.integers(0, STEPS_A_DAY))
        course = one.course(size_sd * random.uniform(0.6, 1.6), random.uniform(0.8, 1.25), 2 * STEPS_A_DAY)
        values[:, at : at + course.shape[1]] += course[:, : values.shape[1] - at]
        if kind >= 0:
            happened.append((kind, at))
    return as_departures(values), happened


def precision_at_5(seed: int, name: str, size_sd: float) -> list[float]:
    """Of the five windows most like each upset: the share that are the same kind of upset."""
    z, happened = world(seed, name, size_sd)
    found = []
    for kind, at in happened:
        begin = at - LEAD
        every = scores(z[:, begin : begin + WINDOW].astype(np.float32), z.astype(np.float32))
        same = [other - LEAD for which, other in happened if which == kind and other != at]
        alike = best(every, 5, without=(begin,))
        hits = [any(abs(match.at - one) <= NEAR for one in same) for match in alike]
        found.append(sum(hits) / 5)
    return found
