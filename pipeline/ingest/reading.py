"""Reading: one pass through an export in one manner, slab by slab.

Some things are decided from the whole file: its encoding, the order of day and month, what quality codes
mean. They are assumed from the first slab and held against the whole at the end; a file that turns out
otherwise is read again, knowing better.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from types import ModuleType
from typing import BinaryIO, Protocol

import polars as pl

from pipeline.clock import zone_of
from pipeline.config.load import Plant
from pipeline.errors import RefusedError
from pipeline.ingest.bare import BareDays
from pipeline.ingest.channels import export_names
from pipeline.ingest.claims import Claim, claim_of
from pipeline.ingest.clean import Cleaned, Cleaner
from pipeline.ingest.forms import Order
from pipeline.ingest.grid import Grid
from pipeline.ingest.head import Head
from pipeline.ingest.identify import identify, is_utf8, to_utf8
from pipeline.ingest.ignored import ignored, without_ignored
from pipeline.ingest.numbered import Written
from pipeline.ingest.orders import hours_of, order_of, refuse_other_orders
from pipeline.ingest.qualities import distinct_of, read_qualities
from pipeline.ingest.refusal import REFUSED
from pipeline.ingest.remarks import Remarks, Understood
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.slabs import Slab, ahead, behind, slabs_of
from pipeline.ingest.values import Mark, decided, telling
from pipeline.ingest.zones import standard_of, zone_named
from pipeline.table import empty

_BOM = b"\xef\xbb\xbf"


class Taker(Protocol):
    """Takes what was read of a file, slab by slab."""

    def take(self, cleaned: Cleaned) -> None:
        """Keep one slab."""

    def forget(self) -> None:
        """Drop every slab of this file: it is read again from its start."""


@dataclass(frozen=True)
class Manner:
    """How a file is written, as far as only the whole of it tells; None = take the first slab's word."""

    is_utf8: bool | None = None
    order: Order | None = None
    assumed: Order | None = None
    qualities: tuple[str, ...] = ()
    mark: Mark | None = None
    doubtful: bool = False
    whole: bool = False
    survey: bool = False


@dataclass(frozen=True)
class _Cut:
    """A slab cut into cells: as a grid, or else as RAW; with its broken lines."""

    layout: str
    module: ModuleType
    sheet: Sheet
    is_last: bool
    grid: Grid | None
    raw: pl.DataFrame | None
    broken: pl.DataFrame
    written: Written | None = None

    @property
    def is_alone(self) -> bool:
        """Whether it is the whole file."""
        return self.is_last and self.sheet.first_line == 1


class OtherwiseError(Exception):
    """The file is not written as was assumed."""

    def __init__(self, manner: Manner) -> None:
        self.manner = manner


class Reading:
    """One reading of a file, in one manner."""

    def __init__(
        self, file: str, plant: Plant, manner: Manner, taker: Taker, not_after: datetime | None, in_bulk: bool
    ) -> None:
        self.file, self.plant, self.manner, self.taker = file, plant, manner, taker
        self.not_after, self.in_bulk = not_after, in_bulk
        self.reading = plant.file.reading
        self.encoding = self.reading.encoding
        self.dates = pl.Series("when", dtype=pl.String)
        self.qualities: dict[str, None] = {}
        self.cleaner: Cleaner | None = None
        self.bare_days = BareDays()
        self.claim: Claim | None = None
        self.remarks = Remarks(file)

    def read(self, stream: BinaryIO, tell: Callable[[int], None] | None) -> Understood:
        """Hand on every slab; raise OtherwiseError with a better manner where there is one."""
        layout, count = "", 0
        with ahead(self._sheets(stream), self._cut) as slabs, behind(self.taker.take) as hand_on:
            for cut in slabs:
                layout = cut.layout
                cleaned = self._cleaned(cut)
                count += cleaned.count
                hand_on(cleaned)
                if tell:
                    tell(stream.tell())
        if not count or not self.cleaner:
            remedy = "export it again for a time that has some"
            raise RefusedError(self.file, "the file has a header and no readings", remedy)
        self._hold_against_the_whole()
        self.bare_days.refuse_repeated(self.file)
        if self.claim:
            self.claim.refuse_contradiction(self.file)
        if self.cleaner.order:
            unread = pl.Series([*self.cleaner.unread], dtype=pl.String)
            refuse_other_orders(unread, self.file, self.cleaner.order)
        return Understood(layout, self.remarks.told(self.cleaner))

    def surveyed(self, stream: BinaryIO) -> Manner:
        """Look through the file for what tells the order of day and month, and the decimal mark."""
        texts = pl.Series("value", dtype=pl.String)
        for _, module, sheet, _ in self._sheets(stream):
            raw = self._rows(module, sheet)[0]
            self._note(raw)
            texts = pl.concat([texts, telling(raw["value"])]).unique(maintain_order=True)
        mark, doubtful = decided(texts, texts.cast(pl.Float64, strict=False))
        order = self.manner.order or (self._order_of_the_whole() if len(self.dates) else None)
        return replace(self.manner, assumed=order, mark=mark, doubtful=doubtful, survey=False)

    def _sheets(self, stream: BinaryIO) -> Iterator[tuple[str, ModuleType, Sheet, bool]]:
        name, module, head = "", ModuleType(""), None
        for slab in slabs_of(stream, self.manner.whole):
            text = self._text(slab)
            if head is None:
                name, module, sheet = identify(text, self.file, self.encoding)
                head = sheet.head
                if getattr(module, "WHOLE", False) and not slab.is_last:
                    raise OtherwiseError(replace(self.manner, whole=True))
            else:
                sheet = Sheet(self.file, text, head, slab.first_line)
            yield name, module, sheet, slab.is_last

    def _text(self, slab: Slab) -> bytes:
        """Return the slab as UTF-8; a file in one piece is left to `identify`."""
        if slab.first_line == 1 and slab.is_last:
            return slab.data
        data = slab.data.removeprefix(_BOM) if slab.first_line == 1 else slab.data
        if self.manner.is_utf8 is not False:
            if is_utf8(data):
                return data
            raise OtherwiseError(replace(self.manner, is_utf8=False))
        try:
            return data.decode(self.encoding).encode()
        except (UnicodeDecodeError, LookupError):
            return to_utf8(data, self.file, self.encoding)

    def _cut(self, slab: tuple[str, ModuleType, Sheet, bool]) -> _Cut:
        """Cut a slab into cells."""
        layout, module, sheet, is_last = slab
        cut = _Cut(layout, module, sheet, is_last, None, None, empty(REFUSED))
        if self.in_bulk and hasattr(module, "grid") and (found := module.grid(sheet)):
            return replace(cut, grid=self._wanted(found[0]), broken=found[1])
        if self.in_bulk and self._has_points(cut) and (found := module.numbered(sheet)):
            raw, broken = self._without_ignored(found[0].rows, found[1])
            return replace(cut, raw=raw, broken=broken, written=found[0].written)
        raw, broken = self._rows(module, sheet)
        return replace(cut, raw=raw, broken=broken)

    def _has_points(self, cut: _Cut) -> bool:
        """Whether numbers can be read before the whole slab is: a point is surely their decimal mark."""
        mark = self.reading.decimal_mark or self.manner.mark or (None if cut.is_alone else ".")
        return hasattr(cut.module, "numbered") and mark == "."

    def _cleaned(self, cut: _Cut) -> Cleaned:
        cleaned, broken = None, cut.broken
        if cut.grid is not None:
            cleaner = self._cleaner(cut, cut.grid.lines)
            cleaned = cleaner.clean_grid(cut.grid)
        if cleaned is None:
            raw, broken = self._rows(cut.module, cut.sheet) if cut.raw is None else (cut.raw, broken)
            cleaner = self._cleaner(cut, raw)
            cleaned = cleaner.clean(raw, cut.written)
        if (not cut.is_last and cleaner.ends_in_repeated_hour) or (not cut.is_alone and cleaner.is_unclear):
            # Read backwards, the pass a reading belongs to is told by lines that are still to come.
            raise OtherwiseError(replace(self.manner, whole=True))
        if not cut.is_alone and cleaner.has_commas and not self.reading.decimal_mark and not self.manner.mark:
            raise OtherwiseError(replace(self.manner, survey=True))
        self.remarks.note(cleaned)
        if self.claim:
            self.claim.note(cleaned)
        refused = pl.concat([broken, cleaned.refused]).sort("line", maintain_order=True)
        return replace(cleaned, refused=refused)

    def _cleaner(self, cut: _Cut, rows: pl.DataFrame) -> Cleaner:
        """Return the one cleaner of the file, made when the first slab is at hand."""
        alone, head = cut.is_alone, cut.sheet.head
        self.bare_days.note(rows)
        if self.bare_days.mixed and not alone:
            # Whether a day is its midnight is told by the readings around it, and by those of other days.
            raise OtherwiseError(replace(self.manner, whole=True))
        if head.order_said:
            self.manner = replace(self.manner, order=head.order_said)
        if not alone:
            self._note(rows)
        if self.cleaner is None:
            order = self.manner.order or self.manner.assumed
            self.cleaner = Cleaner(
                self.plant,
                self.file,
                cut.module.ONE_TIME_A_LINE,
                order or (None if alone else self._order()),
                self.manner.qualities,
                self._zone_of(head),
                self.not_after,
                self.reading.decimal_mark or self.manner.mark or (None if alone else "."),
                self.manner.doubtful,
            )
        self.cleaner.has_days = self.bare_days.any
        return self.cleaner

    def _zone_of(self, head: Head) -> tzinfo | None:
        """Return the zone that the file says its times are in; None for the plant's wall clock."""
        said = head.zone_said or standard_of(map(" ".join, head.preamble), self.plant.zone)
        if said:
            return said
        if self.reading.time_zone:
            return zone_of(self.reading.time_zone)
        self.claim = claim_of(head.zone_letters, self.plant.zone)
        named = zone_named(head.zone_letters, self.plant.zone, self.file)
        return self.claim.zone if self.claim else named

    def _wanted(self, grid: Grid) -> Grid:
        patterns = self.reading.ignore_columns
        names = ignored(grid.numbers.columns, patterns, export_names(self.plant)) if patterns else []
        return grid.without(names) if names else grid

    def _rows(self, module: ModuleType, sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
        return self._without_ignored(*module.read(sheet))

    def _without_ignored(self, raw: pl.DataFrame, broken: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
        patterns = self.reading.ignore_columns
        if not patterns:
            return raw, broken
        known = export_names(self.plant)
        return without_ignored(raw, patterns, known), without_ignored(broken, patterns, known)

    def _note(self, raw: pl.DataFrame) -> None:
        """Remember what the file as a whole is judged by."""
        if not self.manner.order:
            dates = hours_of(raw["when"].unique(maintain_order=True).cast(pl.String))
            self.dates = pl.concat([self.dates, dates]).unique(maintain_order=True)
        if "quality" in raw.columns and (texts := raw["quality"]).count():
            self.qualities |= dict.fromkeys(distinct_of(texts))

    def _order(self) -> Order:
        try:
            return self._order_of_the_whole()
        except RefusedError:
            raise OtherwiseError(replace(self.manner, survey=True)) from None

    def _order_of_the_whole(self) -> Order:
        return order_of(self.dates, self.file, self.not_after)

    def _hold_against_the_whole(self) -> None:
        """Read again where the first slabs were understood otherwise than the whole file would have it."""
        found = self.manner
        if not found.order and self.dates.len():
            order = self._order_of_the_whole()
            if self.cleaner and self.cleaner.order != order:
                found = replace(found, order=order)
        if self.cleaner and self.qualities.keys() - set(found.qualities):
            together = read_qualities(pl.Series(list(self.qualities), dtype=pl.String))["quality"]
            meant = dict(zip(self.qualities, together.cast(pl.String), strict=True))
            if any(self.cleaner.meant.get(text) != quality for text, quality in meant.items()):
                found = replace(found, qualities=tuple(self.qualities))
        if found != self.manner:
            raise OtherwiseError(found)
