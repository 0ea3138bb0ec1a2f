"""Upsets: is the root named, do the intervals hold, is a window that recurs found again; and the cost of it.

``python -m benchmarks.upsets`` (about two minutes) scores beginnings and similar windows on families A and B.
``--scale`` makes ten years of sixty tags in a temporary folder, a quarter at a time, and measures ``upset
similar`` and ``upset window`` there in processes of their own (about ten minutes). ``--dry`` prints only.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

from argparse import ArgumentParser
from collections.abc import Iterable

import numpy as np

from benchmarks.results import Figure, record, today
from benchmarks.upsets_families import TAGS, Path, path
from benchmarks.upsets_similar import precision_at_5
from pipeline.upsets.first import first_chances, named
from pipeline.upsets.onset import BEFORE, LEAD, onset
from pipeline.upsets.usual import SLOTS_A_DAY

COMMAND = "python -m benchmarks.upsets"
RUNS, WORLDS = 150, 8
SIZES = (4.0, 6.0)
SEEDS = {"A": 50_000, "B": 60_000}
LEARN = 56 * SLOTS_A_DAY
SHARE = 0.9

Score = dict[str, list[float]]


def judged(one: Path) -> Score:
    """Score one upset: each list holds noughts and ones, or errors in quarter hours."""
    score: Score = {name: [] for name in ("top", "in_set", "covered", "quiet_named", "off", "names")}
    found = {}
    for tag in range(TAGS):
        edge = one.anchor - BEFORE - LEAD
        told = onset(one.z[tag], one.anchor, one.z[tag][edge - LEARN : edge])
        if told is None or not told.moved:
            continue
        found[str(tag)] = told
        if one.onsets[tag] >= 0:
            true = one.onsets[tag] - one.anchor
            low, high = told.quantile((1 - SHARE) / 2), told.quantile((1 + SHARE) / 2)
            score["covered"].append(float(low <= true <= high))
            score["off"].append(abs(told.quantile(0.5) - true))
    ranked = named(first_chances({tag: told.chance for tag, told in found.items()}))
    score["top"].append(float(ranked[:1] == [str(one.root)]))
    score["in_set"].append(float(str(one.root) in ranked))
    score["names"].append(float(len(ranked)))
    score["quiet_named"] += [float(str(tag) in ranked) for tag in range(TAGS) if one.onsets[tag] < 0]
    return score


def scored(family: str, size_sd: float) -> Score:
    """Score many upsets of a family."""
    every = [judged(path(SEEDS[family] + k, family, size_sd)) for k in range(RUNS)]
    return {name: [value for one in every for value in one[name]] for name in every[0]}


def first_movers(family: str, size_sd: float) -> Iterable[Figure]:
    """Yield the figures of beginnings."""
    found = scored(family, size_sd)
    about = f"{size_sd:g} sd, family {family}"
    held = family == "B" and size_sd == 6.0
    rows = (
        ("top", "upsets whose likeliest tag was the first", 0.80, 0.74, "higher"),
        ("in_set", "upsets whose first tag is in the printed set", 0.92, 0.86, "higher"),
        ("covered", "90 % intervals that hold the true beginning (0.98 at most)", 0.90, 0.88, "higher"),
        ("quiet_named", "share of tags named that did not move", 0.03, 0.06, "lower"),
        ("names", "tags in the printed set", None, None, "lower"),
    )
    for name, what, target, floor, better in rows:
        bars = (target, floor) if held else (None, None)
        figure = round(float(np.mean(found[name])), 3)
        short = f"upset-{name.replace('_', '-')}-{family.lower()}-{size_sd:g}sd"
        count = len(found[name])
        yield Figure(short, f"{what}, {about}", figure, "", better, *bars, count, COMMAND, today())  # type: ignore[arg-type]


def recurring(family: str, size_sd: float) -> Figure:
    """Return the figure of similar windows."""
    found = [share for k in range(WORLDS) for share in precision_at_5(SEEDS[family] + k, family, size_sd)]
    held = family == "B" and size_sd == 5.0
    bars = (0.95, 0.92) if held else (None, None)
    what = f"of the five windows most like an upset, those of its kind, {size_sd:g} sd, family {family}"
    figure = round(float(np.mean(found)), 3)
    name = f"upset-similar-{family.lower()}-{size_sd:g}sd"
    return Figure(name, what, figure, "", "higher", *bars, len(found), COMMAND, today())


def main() -> None:
    """Measure and record."""
    parser = ArgumentParser(prog=COMMAND)
    parser.add_argument("--scale", action="store_true", help="ten years of sixty tags instead")
    parser.add_argument("--family", choices=[*SEEDS], help="only this one")
    parser.add_argument("--dry", action="store_true", help="print only")
    given = parser.parse_args()
    figures: list[Figure] = []
    if given.scale:
        from benchmarks.upsets_scale import scale

        figures += scale()
    else:
        for family in [given.family] if given.family else SEEDS:
            figures += [figure for size in SIZES for figure in first_movers(family, size)]
            figures += [recurring(family, size) for size in (3.0, 5.0)]
    for figure in figures:
        print(f"{figure.id}: {figure.figure} {figure.unit} (n={figure.n})")
    if not given.dry:
        record(figures)


if __name__ == "__main__":
    main()
