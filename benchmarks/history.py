"""History: every finding in sixty weeks of the invented plant, against what its simulator put there.

``python -m benchmarks.history`` makes the plant anew for each of three seeds, reads its exports as the job
does, runs every check at its end and matches findings with faults: the same tag (or one that shows the same
fault), overlapping in time. ``--seed N`` looks at one seed alone and prints every finding that is wrong,
every fault that was missed. The schedule of faults is the same for all seeds; noise and sizes differ.
"""

import tempfile
from argparse import ArgumentParser
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

import polars as pl

from benchmarks.results import Figure, record, today
from pipeline.config.load import Plant, load
from pipeline.demo.plant import make_plant
from pipeline.finding import Finding
from pipeline.gather import gather
from pipeline.intake import take_in
from pipeline.judge import find_all, settings_of
from pipeline.logbook.book import read_logbook

COMMAND = "python -m benchmarks.history"
WEEKS, SEEDS = 60, (1, 2, 3)
SLACK = timedelta(days=1)
"""So far a finding may lie from a fault and still mean it."""


@dataclass(frozen=True)
class Matched:
    """Findings of one plant beside the faults that were put there.

    Parameters
    ----------
    faults : DataFrame
        The truth, with ``found`` (any kind of finding) and ``named`` (the same kind).
    wrong : list of Finding
        Findings that ask for someone's time, on tags where nothing was wrong then.
    notes : int
        The same of findings that are for the record.
    right : int
        Findings that ask for someone's time and are right.
    """

    faults: pl.DataFrame
    wrong: list[Finding]
    notes: int
    right: int


def findings_of(folder: Path, seed: int) -> tuple[Plant, list[Finding], pl.DataFrame]:
    """Make a plant, read it, and return it with all its findings and the true faults."""
    make_plant(folder, weeks=WEEKS, seed=seed)
    plant = load(folder)
    end = datetime(2026, 11, 16, 7, tzinfo=UTC)
    take_in(plant, now=end)
    book, _ = read_logbook(plant)
    findings = find_all(gather(plant, book, end), settings_of(plant))
    faults = pl.read_csv(folder / "sample_exports/truth/faults.csv", try_parse_dates=False)
    times = (
        pl.col(name).str.to_datetime("%Y-%m-%dT%H:%M:%S%z", time_zone="UTC") for name in ("start", "end")
    )
    on_change = [tag.tag for tag in plant.tags.values() if tag.recording != "interval"]
    return plant, findings, faults.with_columns(*times).filter(~pl.col("tag").is_in(on_change))


def matched(plant: Plant, findings: list[Finding], faults: pl.DataFrame) -> Matched:
    """Match findings with faults."""
    found: list[set[str]] = [set() for _ in range(faults.height)]
    wrong, notes, right = [], 0, 0
    truth = list(faults.iter_rows(named=True))
    for finding in findings:
        meant = [place for place, fault in enumerate(truth) if _means(plant, finding, fault)]
        for place in meant:
            found[place].add(finding.kind)
        is_note = finding.severity == "note"
        right += bool(meant) and not is_note
        notes += not meant and is_note
        if not meant and not is_note:
            wrong.append(finding)
    return Matched(
        faults.with_columns(
            pl.Series("found", [bool(kinds) for kinds in found]),
            pl.Series("named", [fault["kind"] in kinds for fault, kinds in zip(truth, found, strict=True)]),
            pl.Series("as", [" ".join(sorted(kinds)) for kinds in found]),
        ),
        wrong,
        notes,
        right,
    )


def _means(plant: Plant, finding: Finding, fault: dict[str, object]) -> bool:
    """Whether a finding is about a fault: its own tag or, where two signals became one, the other."""
    tag = str(fault["tag"])
    partners = {tag, plant.tags[tag].twin} if fault["kind"] == "copied" else {tag}
    start, end = fault["start"], fault["end"]
    assert isinstance(start, datetime) and isinstance(end, datetime)
    over = finding.end or datetime.max.replace(tzinfo=UTC)
    return finding.tag in partners and finding.start < end + SLACK and over > start - SLACK


def main() -> None:
    """Score the seeds and record, or print one in full."""
    parser = ArgumentParser(description="findings of the invented plant's whole history against its truth")
    parser.add_argument("--seed", type=int)
    chosen = parser.parse_args().seed
    every = []
    for seed in SEEDS if chosen is None else (chosen,):
        with tempfile.TemporaryDirectory() as name:
            every.append(matched(*findings_of(Path(name), seed)))
        _say(seed, every[-1])
    if chosen is None:
        record(_figures(every))


def _say(seed: int, one: Matched) -> None:
    print(f"seed {seed}: {one.right} right, {len(one.wrong)} wrong entries, {one.notes} wrong notes")
    for finding in one.wrong:
        print("  wrong ", finding.finding_id, finding.severity, finding.start, finding.end, finding.evidence)
    for fault in one.faults.filter(~pl.col("named")).iter_rows(named=True):
        state = f"found as {fault['as']}" if fault["found"] else "missed"
        print("  fault ", fault["tag"], fault["kind"], fault["start"], state)


def _share(marks: pl.Series) -> float:
    return float(marks.to_numpy().mean())


def _figures(every: list[Matched]) -> list[Figure]:
    faults = pl.concat([one.faults for one in every])
    wrong, right = sum(len(one.wrong) for one in every), sum(one.right for one in every)
    weeks = WEEKS * len(every)

    def figure(
        name: str,
        what: str,
        value: float,
        unit: str,
        better: Literal["higher", "lower"],
        target: float,
        n: int,
    ) -> Figure:
        return Figure(
            f"run-history-{name}", what, round(value, 3), unit, better, target, None, n, COMMAND, today()
        )

    return [
        figure(
            "found",
            "faults of the invented plant found",
            _share(faults["found"]),
            "",
            "higher",
            1.0,
            faults.height,
        ),
        figure(
            "named",
            "the same, by their right name",
            _share(faults["named"]),
            "",
            "higher",
            0.95,
            faults.height,
        ),
        figure(
            "false", "entries a week where nothing was wrong", wrong / weeks, "1/week", "lower", 0.15, weeks
        ),
        figure(
            "precision",
            "entries that were right",
            right / max(right + wrong, 1),
            "",
            "higher",
            0.9,
            right + wrong,
        ),
    ]


if __name__ == "__main__":
    main()
