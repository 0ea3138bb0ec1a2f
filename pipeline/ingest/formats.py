"""Formats: what the parts of a workbook say and its reader does not: how numbers are shown, where days begin.

Elements and attributes are those of ECMA-376 part 1, 18: spreadsheets.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO
from posixpath import join, normpath
from xml.etree import ElementTree
from zipfile import ZipFile

_BUILT_IN = {9: "0%", 10: "0.00%"}
"""Number formats with a percent sign that every workbook has (18.8.30)."""
_NO_SIGN = re.compile(r'"[^"]*"|\\.|[_*].|\[[^\]]*\]')
"""What a format only writes, or leaves room for: there a percent sign is a letter."""
_THOUSANDS = re.compile(r"[0#?],+(?![0#?,])")
"""Commas behind the last digit: the number is shown in thousands."""
_PLACE = re.compile(r"([A-Z]+)(\d+)")


@dataclass(frozen=True)
class Shown:
    """How a cell shows its number: `percent` signs, each of which is a factor of 100, or in thousands."""

    percent: int = 0
    in_thousands: bool = False

    def text(self, number: str) -> str:
        """Return a number as it is shown, to its last digit: 46 % for 0.46."""
        if self.in_thousands:
            return f"{number} (shown in thousands)"
        # A workbook may write 0.57 as 0.56999999999999995: the number is the nearest that is binary.
        return f"{(Decimal(repr(float(number))) * 100**self.percent).normalize():f} %"


@dataclass(frozen=True)
class Formats:
    """A workbook's parts.

    Parameters
    ----------
    book : ZipFile
    from_1904 : bool
        Whether its days are counted from 1904.
    styles : tuple of Shown or None
        How each style of a cell shows a number; None as it is.
    sheets : dict of str to str
        The part in which each sheet stands.
    """

    book: ZipFile
    from_1904: bool
    styles: tuple[Shown | None, ...]
    sheets: dict[str, str]

    def without_result(self, sheet: str) -> str | None:
        """Return the place (``B2``) of the first formula whose result the workbook does not hold, if any."""
        name = self.sheets.get(sheet, "")
        part = self.book.read(name) if name in self.book.namelist() else b""
        if b"<f" not in part and b":f" not in part:
            return None
        return next((cell.get("r", "") for _, _, cell in _cells(part) if _has_no_result(cell)), None)

    def shown(self, sheet: str) -> Iterator[tuple[int, int, str, Shown]]:
        """Yield row, column, number and format of every cell that does not show the number it holds.

        Both count from 0; columns from the first in which anything stands.
        """
        if not any(self.styles):
            return
        found, first = [], None
        for row, column, cell in _cells(self.book.read(self.sheets[sheet])):
            number = cell.findtext("{*}v")
            if number is None and cell.find("{*}is") is None:
                continue
            first = column if first is None else min(first, column)
            style = self.styles[int(cell.get("s", "0"))]
            if style and number is not None and cell.get("t", "n") == "n":
                found.append((row, column, number, style))
        yield from ((row, column - (first or 0), number, style) for row, column, number, style in found)


def _has_no_result(cell: ElementTree.Element) -> bool:
    """Whether a cell holds a formula, and not what comes of it (18.3.1.40); of a text, nothing may come."""
    return cell.find("{*}f") is not None and not cell.findtext("{*}v") and cell.get("t", "n") != "str"


def formats_of(data: bytes) -> Formats:
    """Return what a workbook's parts say.

    Raises
    ------
    KeyError, ValueError, ElementTree.ParseError, zipfile.BadZipFile
        A part is missing or damaged.
    """
    book = ZipFile(BytesIO(data))
    root = ElementTree.fromstring(book.read("xl/workbook.xml"))
    told = root.find("{*}workbookPr")
    from_1904 = told is not None and told.get("date1904") in ("1", "true")
    links = ElementTree.fromstring(book.read("xl/_rels/workbook.xml.rels"))
    parts = {link.get("Id"): normpath(join("/xl", link.get("Target", "")))[1:] for link in links}
    sheets = {}
    for sheet in root.iterfind("{*}sheets/{*}sheet"):
        link = next((value for name, value in sheet.attrib.items() if name.endswith("}id")), None)
        sheets[sheet.get("name", "")] = parts.get(link, "")
    return Formats(book, from_1904, _styles(book), sheets)


def _styles(book: ZipFile) -> tuple[Shown | None, ...]:
    if "xl/styles.xml" not in book.namelist():
        return ()
    root = ElementTree.fromstring(book.read("xl/styles.xml"))
    codes = dict(_BUILT_IN)
    for form in root.iterfind("{*}numFmts/{*}numFmt"):
        codes[int(form.get("numFmtId", "0"))] = form.get("formatCode", "")
    return tuple(
        shown_by(codes.get(int(style.get("numFmtId", "0")), ""))
        for style in root.iterfind("{*}cellXfs/{*}xf")
    )


def shown_by(code: str) -> Shown | None:
    """Return how a format code shows a number above zero (18.8.31); None where it shows the number itself."""
    first = _NO_SIGN.sub("", code).partition(";")[0]
    found = Shown(first.count("%"), _THOUSANDS.search(first) is not None)
    return None if found == Shown() else found


def _cells(part: bytes) -> Iterator[tuple[int, int, ElementTree.Element]]:
    """Yield every cell of a sheet with its row and column, from 0; a cell may leave them out (18.3.1.4)."""
    row, column = -1, -1
    for event, element in ElementTree.iterparse(BytesIO(part), ("start", "end")):
        name = element.tag.rpartition("}")[2]
        if event == "start" and name == "row":
            row, column = int(element.get("r", row + 2)) - 1, -1
        elif event == "end" and name == "c":
            place = _PLACE.fullmatch(element.get("r", ""))
            column = _number(place[1]) if place else column + 1
            yield row, column, element
        elif event == "end" and name == "row":
            element.clear()


def _number(letters: str) -> int:
    """Return the place of a column called A, B … AA."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number - 1
