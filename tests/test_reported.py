"""Reported: the newest report of a finding is the one of the latest time, whatever its folder is called."""

import json
from datetime import UTC, datetime
from types import SimpleNamespace

from pipeline.reported import reported_findings

HEAD = "finding_id,tag,instrument,kind,severity,start,end,reference,evidence,check_first,verdict\n"
LINE = "{0}.drift.2026-03-11,{0},AE-1,drift,act,2026-03-09T00:00:00+01:00,,lab grab,{1},probe,\n"


def _report(folder, name, until, *lines):
    (folder / name).mkdir()
    (folder / name / "findings.csv").write_text(HEAD + "".join(lines))
    (folder / name / "run.json").write_text(json.dumps({"period_end": until}))


def test_what_a_later_report_says_nothing_of_is_over(tmp_path):
    """Weeks sort behind months by their names: 2026-W12 (March) is older than 2026-10 (October)."""
    _report(
        tmp_path, "2026-W12", "2026-03-23T00:00:00+01:00", LINE.format("A", "old"), LINE.format("B", "old")
    )
    _report(tmp_path, "2026-10", "2026-11-01T00:00:00+01:00", LINE.format("B", "new"))
    closed, still = reported_findings(SimpleNamespace(reports=tmp_path))
    assert closed.end == datetime(2026, 3, 22, 23, tzinfo=UTC)
    assert (still.end, still.evidence) == (None, "new")
