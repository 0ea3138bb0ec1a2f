"""Identify: an export's bytes become text, and exactly one layout says that it can read it."""

import re
from types import ModuleType

import pipeline.ingest.layouts as layouts_folder
from pipeline.errors import RefusedError
from pipeline.ingest.head import BESIDE_A_VALUE, head_of
from pipeline.ingest.series import refuse_series
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.utf16 import utf16_of
from pipeline.ingest.vocabulary import SCALE_NAMES, VALUE_NAMES, called, has_date, is_number
from pipeline.parts import parts

LAYOUTS = parts(layouts_folder)
_KINDS = (
    (b"PK\x03\x04", "an Excel workbook or a zip archive", "open it and save the sheet as CSV UTF-8"),
    (
        b"\xd0\xcf\x11\xe0",
        "an old Excel workbook",
        "open it and save it as a workbook (.xlsx) or as CSV UTF-8",
    ),
    (b"%PDF", "a PDF", "export the readings as CSV"),
    (b"\x1f\x8b", "a gzip archive", "unpack it first"),
    (b"PAR1", "a Parquet file", "export the readings as CSV"),
    (b"SQLite format 3\x00", "a database file", "export the readings as CSV"),
)
_HOUR = re.compile(r"(?:[01]?\d|2[0-4])(?::[0-5]\d)+(?: ?[ap]m)?|(?:1[0-2]|[1-9]) ?[ap]m", re.IGNORECASE)
_UNDER_A_HEADER = 4
"""Lines below a header that may still belong to it."""
_IN_THEIR_UNIT = "export the readings in their unit, without a factor beside them"
_ONE = re.compile(r"\+?1(?:[.,]0{0,2})?")
_HEAD_BYTES = 65_536
_LOST = re.compile(rb"\x00{16,}")
_TEXT_BYTES = bytes([*b"\t\n\r\f\x1a", *range(32, 256)])


def identify(data: bytes, name: str, encoding: str) -> tuple[str, ModuleType, Sheet]:
    """Return the layout's name, the layout and the export cut into lines.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        The file, as people know it.
    encoding : str
        How to read bytes that are not UTF-8 and have no byte-order mark.

    Raises
    ------
    RefusedError
        Not text, empty, or not exactly one layout recognises it.
    """
    text = to_utf8(data, name, encoding)
    if not text.lstrip(b" \t\r\n\x00\x1a,;|"):
        raise RefusedError(name, "the file is empty", "export it again; nothing was read from it")
    start = text[:_HEAD_BYTES].decode("utf-8", errors="ignore")
    sheet = Sheet(name, text, head_of(start))
    layout = _layout_of(sheet)
    return layout, LAYOUTS[layout], sheet


def to_utf8(data: bytes, name: str, encoding: str) -> bytes:
    """Return `data` as UTF-8 without byte-order mark and with LF or CRLF line ends.

    Raises
    ------
    RefusedError
        It is not text, or not in the encoding the plant names.
    """
    wide = utf16_of(data)
    if wide:
        # Of a file that was cut off within a sign, the rest is read.
        return _line_ends(_decoded(data[: len(data) // 2 * 2], name, wide).encode())
    _refuse_binary(data, name)
    body = data.removeprefix(b"\xef\xbb\xbf")
    if not is_utf8(body):
        body = _decoded(body, name, encoding).encode()
    return _line_ends(body)


def is_utf8(data: bytes) -> bool:
    """Whether bytes are UTF-8 text; most exports are ASCII, which is sooner seen."""
    if data.isascii():
        return True
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _refuse_binary(data: bytes, name: str) -> None:
    for magic, kind, remedy in _KINDS:
        if data.startswith(magic):
            raise RefusedError(name, f"this is {kind}, not a text file", remedy)
    head = data[:_HEAD_BYTES].rstrip(b"\x00\x1a")
    if data and not head:
        raise RefusedError(name, "the file holds nothing but NUL bytes", "export it again")
    # A recorder whose power failed leaves a stretch of NUL among its lines; it costs the line it stands in.
    head = _LOST.sub(b"", head)
    if len(head.translate(None, delete=_TEXT_BYTES)) > len(head) // 100:
        remedy = "export the readings as CSV"
        raise RefusedError(name, "this is a binary file, not text (it holds control characters)", remedy)


def _decoded(data: bytes, name: str, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except (UnicodeDecodeError, LookupError) as error:
        problem = f"the text is neither UTF-8 nor {encoding} ({error})"
        remedy = "name its encoding in config/plant.toml, [reading] encoding"
        raise RefusedError(name, problem, remedy) from error


def _line_ends(text: bytes) -> bytes:
    """Old systems end lines with CR alone."""
    if b"\r" in text and b"\n" not in text:
        return text.replace(b"\r", b"\n")
    return text


def _layout_of(sheet: Sheet) -> str:
    head = sheet.head
    found = [name for name, layout in LAYOUTS.items() if layout.recognises(head)]
    _refuse_times_across(sheet)
    _refuse_value_of_no_tag(sheet)
    _refuse_times_apart(sheet)
    _refuse_scaled(sheet)
    refuse_series(sheet)
    if len(found) == 1:
        return found[0]
    shown = ", ".join(head.header[:6]) + (" …" if len(head.header) > 6 else "")
    if found:
        problem = f"more than one layout fits this file ({', '.join(found)}); its first line is: {shown}"
        raise RefusedError(sheet.name, problem, "rename its columns so that only one fits")
    if head.tag_column is not None and len(head.value_columns) > 1:
        tag, values = head.header[head.tag_column], [head.header[place] for place in head.value_columns]
        problem = f"each line names a tag (column {tag}), and any of {', '.join(values)} may be its value"
        raise RefusedError(sheet.name, problem, "export one of them a file, under the header Value")
    problem = f"no layout we know fits this file; its first line is: {shown}"
    remedy = (
        "export it with a header: a time column and one column a tag; or one line a reading with the columns "
        "tag, time, value (and quality); or a time and a value column for each tag; or one file a tag"
    )
    raise RefusedError(sheet.name, problem, remedy)


def _refuse_times_across(sheet: Sheet) -> None:
    """Refuse a table whose columns are times: days down and hours across, or tags down and times across."""
    head = sheet.head
    names = [name for place, name in enumerate(head.header) if name and place not in head.when_columns]
    times = [name for name in names if has_date(name) or _HOUR.fullmatch(name)]
    if len(times) >= 3 and len(times) * 2 > len(names):
        problem = f"its columns are times ({', '.join(times[:3])} …), not tags"
        raise RefusedError(sheet.name, problem, "export it turned round: one time a line")


def _refuse_times_apart(sheet: Sheet) -> None:
    """Refuse a wide table whose time column comes again with other times: which is a tag's, nothing tells."""
    head = sheet.head
    places = {name: [place for place, one in enumerate(head.names) if one == name] for name in head.names}
    for first in head.when_columns if head.is_wide else ():
        again = [place for place in places[head.names[first]] if place != first]
        rows = [row for row in head.cells[head.heading.bottom + 1 :] if len(row) == head.width]
        if any(row[place] not in ("", row[first]) for row in rows for place in again):
            problem = f"its column {head.header[first]} comes twice, with different times"
            remedy = "export each tag with its time on its left, or all tags of a line at one time"
            raise RefusedError(sheet.name, problem, remedy)


def _refuse_scaled(sheet: Sheet) -> None:
    """Refuse an export whose header, or a column, says by what its numbers are still to be multiplied."""
    head = sheet.head
    top = head.heading.bottom + (_UNDER_A_HEADER if head.is_wide else 0)
    for number, row in zip(head.numbers[: top + 1], head.cells, strict=False):
        cells = [cell.strip() for text in row for cell in text.split(":") if cell.strip()]
        dated = any(map(has_date, cells))
        if cells and not dated and called(cells[0]) in SCALE_NAMES and any(map(_scales, cells[1:])):
            problem = f"its line {number} says that its numbers are to be multiplied: {', '.join(cells)}"
            raise RefusedError(sheet.name, problem, _IN_THEIR_UNIT)
    place = head.column(SCALE_NAMES)
    if place is not None and not head.is_wide and any(map(_scales, head.texts(place))):
        problem = f"its column {head.header[place]} says by what each number is to be multiplied"
        raise RefusedError(sheet.name, problem, _IN_THEIR_UNIT)


def _scales(text: str) -> bool:
    """Whether a cell is a number other than one."""
    return is_number(text) and _ONE.fullmatch(text) is None


def _refuse_value_of_no_tag(sheet: Sheet) -> None:
    """Refuse a column called Value among columns that may be tags: whose value it is, nothing tells."""
    head = sheet.head
    places = [place for place in range(len(head.names)) if place not in head.when_columns]
    values = [head.header[place] for place in places if head.names[place] in VALUE_NAMES]
    if not head.is_wide or len(values) != 1 or len(head.rows) > 1:
        return
    known = BESIDE_A_VALUE | VALUE_NAMES
    others = [head.header[place] for place in places if head.names[place] not in known]
    problem = f"its column {values[0]} names no tag, and beside it stand columns that may be tags: "
    remedy = "export time, value and quality alone, or give the column the name of its tag"
    raise RefusedError(sheet.name, problem + ", ".join(others[:6]), remedy)
