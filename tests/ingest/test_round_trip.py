"""Round trip: a random table, in a random layout, dialect and way of writing times, is read back equal."""

import csv
import gzip
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from pipeline.clock import zone_of
from pipeline.config.load import Plant
from pipeline.ingest.export import read_export
from pipeline.ingest.opener import opened

TAGS = ("AIT-2", "FIT-3", "AIT-9")
UNITS = {"AIT-2": "mg/L", "FIT-3": "MGD", "AIT-9": "NTU"}
TAGS_CSV = """\
tag,area,measures,unit
AIT-1,filters,turbidity,NTU
AIT-2,clearwell,chlorine,mg/L
FIT-3,clearwell,flow,MGD
AIT-9,filters,turbidity,NTU
"""
LAYOUTS = ("columns", "header_rows", "readings", "pairs", "one_tag")

# Ways of writing a wall-clock time, as the standard library writes them, and the order they need said.
WALL = {
    "%Y-%m-%d %H:%M": "",
    "%Y-%m-%dT%H:%M:%S": "",
    "%Y/%m/%d %H:%M:%S": "",
    "%m/%d/%Y %H:%M": "month_first",
    "%m/%d/%Y %I:%M:%S %p": "month_first",
    "%m/%d/%y %I:%M %p": "month_first",
    "%d/%m/%Y %H:%M": "day_first",
    "%d.%m.%Y %H:%M:%S": "day_first",
    "%d.%m.%y %H:%M": "day_first",
    "%d-%b-%Y %H:%M": "",
    "%b %d, %Y %I:%M %p": "",
    "%A %d %B %Y %H:%M": "",
    "%Y%m%d%H%M%S": "",
    "%Y%m%d %H%M": "",
    "serial": "",
}
INSTANT = ("%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%d %H:%M UTC", "offset", "epoch", "milliseconds")
SERIAL_ZERO = datetime(1899, 12, 30)  # ECMA-376 part 1, 18.17.4.1: 1900 date system, past its leap year


@dataclass(frozen=True)
class Table:
    """Rows of one value a tag; None where nothing was measured."""

    times: list[datetime]
    values: dict[str, list[float | None]]


@dataclass(frozen=True)
class Manner:
    layout: str
    form: str
    zone: str
    mark: str
    delimiter: str
    encoding: str
    line_end: str
    quoting: bool
    packed: str
    preamble: bool
    footer: bool
    header_again: bool
    units: bool
    trailing: bool
    newest_first: bool


@st.composite
def tables(draw: st.DrawFn) -> Table:
    start = draw(st.datetimes(datetime(2012, 1, 1), datetime(2035, 1, 1))).replace(second=0, microsecond=0)
    if draw(st.booleans()):
        # tz database, America/Denver: on these nights the clocks change.
        night = draw(st.sampled_from([datetime(2026, 3, 8), datetime(2026, 11, 1), datetime(2021, 11, 7)]))
        start = night + timedelta(hours=draw(st.integers(2, 7)), minutes=draw(st.sampled_from([0, 15])))
    step = timedelta(minutes=draw(st.sampled_from([1, 5, 15, 30])))
    count = draw(st.integers(2, 14))
    times = [start.replace(tzinfo=UTC) + step * k for k in range(count)]
    numbers = st.decimals(-9_999, 99_999, places=draw(st.sampled_from([0, 1, 2, 3, 4]))).map(float)
    values = {}
    for tag in TAGS[: draw(st.integers(1, len(TAGS)))]:
        values[tag] = draw(st.lists(st.none() | numbers, min_size=count, max_size=count))
    # A line that holds nothing at all is no line of a recording.
    values[TAGS[0]] = [0.5 if value is None else value for value in values[TAGS[0]]]
    return Table(times, values)


manners = st.builds(
    Manner,
    layout=st.sampled_from(LAYOUTS),
    form=st.sampled_from([*WALL, *INSTANT]),
    zone=st.sampled_from(["America/Denver", "-07:00", "UTC"]),
    mark=st.sampled_from([".", ",", "decide ."]),
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"]),
    line_end=st.sampled_from(["\n", "\r\n", "\r"]),
    quoting=st.booleans(),
    packed=st.sampled_from(["", "gzip", "zip"]),
    preamble=st.booleans(),
    footer=st.booleans(),
    header_again=st.booleans(),
    units=st.booleans(),
    trailing=st.booleans(),
    newest_first=st.booleans(),
)


def _when(time: datetime, manner: Manner, zone: tzinfo) -> str:
    if manner.form == "epoch":
        return str(int(time.timestamp()))
    if manner.form == "milliseconds":
        return str(int(time.timestamp() * 1000))
    if manner.form == "offset":
        return time.astimezone(ZoneInfo("Asia/Kolkata")).isoformat()
    if manner.form in INSTANT:
        return time.strftime(manner.form)
    wall = time.astimezone(zone).replace(tzinfo=None)
    if manner.form == "serial":
        return f"{(wall - SERIAL_ZERO) / timedelta(days=1):.10f}"
    return wall.strftime(manner.form)


def _number(value: float | None, mark: str) -> str:
    text = "" if value is None else repr(value)
    return text.replace(".", ",") if mark == "," else text


def _grid(table: Table, manner: Manner, zone: tzinfo) -> tuple[list[list[str]], list[list[str]]]:
    """Return header rows and rows of readings."""
    stamps = [_when(time, manner, zone) for time in table.times]
    texts = {tag: [_number(value, manner.mark) for value in values] for tag, values in table.values.items()}
    names = {tag: f"{tag} ({UNITS[tag]})" if manner.units else tag for tag in texts}
    lines = range(len(stamps))
    if manner.layout == "columns":
        return [["Time", *names.values()]], [[stamps[k], *(texts[tag][k] for tag in texts)] for k in lines]
    if manner.layout == "header_rows":
        rows = [["Tag", *texts], ["Description", *("measured" for _ in texts)]]
        rows += [["Unit", *(UNITS[tag] for tag in texts)]] if manner.units else []
        return rows, [[stamps[k], *(texts[tag][k] for tag in texts)] for k in lines]
    if manner.layout == "readings":
        header = ["Time", "Tag", "Value", *(["Unit"] if manner.units else [])]
        more = {tag: [UNITS[tag]] if manner.units else [] for tag in texts}
        return [header], [[stamps[k], tag, texts[tag][k], *more[tag]] for k in lines for tag in texts]
    if manner.layout == "pairs":
        header = [cell for tag in texts for cell in (f"{tag} Time", names[tag])]
        return [header], [[cell for tag in texts for cell in (stamps[k], texts[tag][k])] for k in lines]
    tag = TAGS[0]
    unit = [["Unit", UNITS[tag]]] if manner.units else []
    return [["Tag", tag], *unit, ["Time", "Value"]], [[stamps[k], texts[tag][k]] for k in lines]


def _written(table: Table, manner: Manner, zone: tzinfo) -> bytes:
    header, rows = _grid(table, manner, zone)
    if manner.newest_first:
        rows.reverse()
    if manner.header_again:
        middle = len(rows) // 2
        rows = [*rows[:middle], *header[-1:], *rows[middle:]]
    if manner.trailing and manner.layout != "one_tag":
        header, rows = [[*row, ""] for row in header], [[*row, ""] for row in rows]
    text = io.StringIO()
    quoting = csv.QUOTE_ALL if manner.quoting else csv.QUOTE_MINIMAL
    writer = csv.writer(text, delimiter=manner.delimiter, lineterminator=manner.line_end, quoting=quoting)
    if manner.preamble:
        writer.writerows([["Trend report"], ["Plant: Harrow Fork"], []])
    writer.writerows([*header, *rows])
    if manner.footer:
        writer.writerows([[], ["End of report"]])
    data = text.getvalue().encode(manner.encoding)
    if manner.packed == "gzip":
        return gzip.compress(data)
    if manner.packed == "zip":
        target = io.BytesIO()
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("week.csv", data)
        return target.getvalue()
    return data


def _can_be_told(table: Table, manner: Manner, zone: tzinfo) -> bool:
    """Whether the wall clock says which pass of a repeated hour it is: not where the record begins in it."""
    if manner.form not in WALL or not isinstance(zone, ZoneInfo):
        return True
    first = table.times[0].astimezone(zone)
    return first.utcoffset() == first.replace(fold=1 - first.fold).utcoffset()


def _expected(table: Table, manner: Manner) -> dict[tuple[str, datetime], float | None]:
    tags = TAGS[:1] if manner.layout == "one_tag" else table.values
    wide = manner.layout in ("columns", "header_rows")
    return {
        (tag, time): value
        for tag in tags
        for time, value in zip(table.times, table.values[tag], strict=True)
        if value is not None or not wide
    }


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(table=tables(), manner=manners)
def test_what_is_written_is_read_back(make_plant: Callable[..., Plant], table: Table, manner: Manner) -> None:
    zone = zone_of(manner.zone)
    assume(_can_be_told(table, manner, zone))
    order = WALL.get(manner.form, "")
    reading = f'date_order = "{order}"\n' if order else ""
    reading += "" if manner.mark.startswith("decide") else f'decimal_mark = "{manner.mark}"\n'
    plant = make_plant(reading=reading, tags=TAGS_CSV)
    plant = replace(plant, file=plant.file.model_copy(update={"time_zone": manner.zone}))
    (member,) = opened(_written(table, manner, zone), "week.csv")
    export = read_export(member.data, member.name, "0" * 12, plant)
    assert export.layout == manner.layout
    found = {
        (tag, time): value for tag, time, value in export.readings.select("tag", "time", "value").iter_rows()
    }
    assert found == _expected(table, manner)
    assert export.readings.height == len(found)
    assert export.refused.height == int(manner.footer)
