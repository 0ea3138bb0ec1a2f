"""A corpus of awkward exports: what is read and refused of each, against a table that a person has read."""

import tomllib
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.config.load import Plant
from pipeline.errors import RefusedError
from pipeline.ingest.export import read_export
from pipeline.ingest.opener import opened

CORPUS = Path(__file__).parent / "corpus"
CASES = tomllib.loads((CORPUS / "cases.toml").read_text(encoding="utf-8"))
NOT_AFTER = datetime(2027, 1, 1, tzinfo=UTC)

TAGS = """\
tag,export_name,area,measures,unit,export_unit,low,high,instrument,states,sentinels,step_s
AIT-1,,filters,turbidity,NTU,,0,5,AE-1,,-99|9999,
YS-1,,filters,state,1,,,,,0=Off|1=On,,
YS-3,,filters,state,1,,,,,0=Stop|1=Run|2=Fault,,
AIT-2,,clearwell,chlorine,mg/L,,0,5,,,,
FIT-2,,clearwell,flow,MGD,gpm,0,2,,,,
FIT-3,,clearwell,flow,MGD,,0,5,,,,
LIT-3,,clearwell,level,ft,,0,30,,,,
PIT-3,,clearwell,pressure,psi,psi,0,100,,,,
TIT-3,,clearwell,temperature,degC,,0,40,,,,
AIT-9,AIT-9.Value,clearwell,ph,pH,,0,14,,,,
CIT-3,,clearwell,conductivity,uS/cm,,0,2000,,,,
ZIT-3,,clearwell,position,%,,0,100,,,,
FQ-3,,clearwell,volume,gal,,0,,,,,86400
"""


def _table(data: bytes, name: str, plant: Plant) -> str:
    try:
        export = read_export(data, name, "0" * 12, plant, NOT_AFTER)
    except RefusedError as refused:
        return f"refused: {refused.fault.problem}; {refused.fault.remedy}\n"
    assert export.read == export.readings.height + export.refused.height
    readings = export.readings.drop("source").with_columns(pl.col("value").round(6))
    remarks = "".join(f"remark: {remark}\n" for remark in export.remarks)
    text = f"layout: {export.layout}\n{remarks}{readings.write_csv(datetime_format='%Y-%m-%dT%H:%M:%S%.fZ')}"
    if not export.refused.is_empty():
        text += f"refused:\n{export.refused.write_csv()}"
    return text


def test_the_corpus_is_whole() -> None:
    files = {path.name for path in CORPUS.iterdir() if path.name not in ("cases.toml", "golden")}
    assert files == set(CASES)
    assert len(files) >= 40


@pytest.mark.parametrize("name", sorted(CASES))
def test_corpus(name: str, make_plant: Callable[..., Plant], golden: Callable[[Path, str], None]) -> None:
    plant = make_plant(reading=CASES[name].get("reading", ""), tags=TAGS)
    text = f"{CASES[name]['about']}\n"
    for member in opened((CORPUS / name).read_bytes(), name):
        text += f"\n{member.name}\n"
        text += f"refused: {member.fault}\n" if member.fault else _table(member.data, member.name, plant)
    golden(CORPUS / "golden" / f"{name}.txt", text)
