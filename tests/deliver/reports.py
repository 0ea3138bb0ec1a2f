"""A report's folder as the contract has it, small."""

import csv
import json
from pathlib import Path

LIMITS = (
    "limit_id,tag,label,statistic,period_start,period_end,value,limit_low,limit_high,unit,status,minutes_outside,"
    "longest_minutes,worst,worst_at,coverage_pct,source"
)
LIST = (
    "rank,instrument,tag,place,finding_id,why,estimate,unit,tolerance,reaches_tolerance_on,last_calibrated,"
    "check_first"
)
OUTSIDE = {
    "limit_id": "IFE-1",
    "tag": "AIT-1",
    "label": "Filter 1 turbidity",
    "limit_high": "0.3",
    "unit": "NTU",
    "status": "outside",
    "worst": "0.5123456",
    "worst_at": "2026-11-11T14:00:00-07:00",
    "source": "plant's own alarm",
}
PERMIT = {
    "limit_id": "CFE",
    "tag": "AIT-1",
    "label": "Combined filter effluent",
    "limit_high": "1",
    "unit": "NTU",
    "status": "outside",
    "worst": "1.2",
    "worst_at": "2026-11-12T09:00:00-07:00",
    "source": "permit, clause 4",
}
UNKNOWN = {"limit_id": "CL2", "tag": "AIT-2", "status": "not assessable"}
WITHIN = {"limit_id": "PH", "tag": "AIT-3", "label": "Finished pH", "status": "within"}
LISTED = {
    "rank": "1",
    "instrument": "AE-2",
    "tag": "AIT-2",
    "place": "clearwell",
    "why": "Reads 0.19 mg/L below the lab grabs.",
    "check_first": "a grab side by side",
}


def report(folder: Path) -> Path:
    """Write the report of a week."""
    folder.mkdir(parents=True)
    run = {
        "plant": "Small plant",
        "label": folder.name,
        "state": "For review",
        "verdict": "Outside 1 of 3 limits, for review; 1 instrument to check first.",
        "period_start": "2026-11-09T00:00:00-07:00",
        "period_end": "2026-11-16T00:00:00-07:00",
    }
    (folder / "run.json").write_text(json.dumps(run), encoding="utf-8")
    _table(folder / "limits.csv", LIMITS, [OUTSIDE, PERMIT, UNKNOWN, WITHIN])
    _table(folder / "calibration-list.csv", LIST, [LISTED])
    for page in ("weekly", "calibration-list", "field-sheet"):
        text = f"<!doctype html><title>{page}</title>" + "µ 0.5 °C\n" * 2000
        (folder / f"{page}.html").write_text(text, encoding="utf-8", newline="")
    return folder


def _table(path: Path, columns: str, rows: list[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns.split(","), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
