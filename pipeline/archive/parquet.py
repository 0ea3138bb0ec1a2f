"""Parquet: readings sorted by tag and time, a row group a tag, the same bytes for the same rows."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from types import TracebackType

import numpy as np
import polars as pl
import pyarrow as pa
from pyarrow.parquet import ParquetFile, ParquetWriter

from pipeline.archive.atomic import replace_file
from pipeline.archive.load import Alone
from pipeline.errors import StillwellError
from pipeline.table import LONG, QUALITIES, QUALITY, conform

_WORDS = pa.dictionary(pa.int32(), pa.string())
_COLUMNS = {
    "tag": _WORDS,
    "time": pa.timestamp("us", "UTC"),
    "value": pa.float64(),
    "quality": _WORDS,
    "raw": _WORDS,
    "source": _WORDS,
    "displaced_by": _WORDS,
}
"""Plain types, so that any reader understands them; `displaced_by` only beside superseded rows."""
_MAY_BE_NULL = ("value", "raw")
_BATCH_ROWS = 2**16
_FEW = 2**12
"""So few words are sooner numbered one by one."""


class Groups:
    """A file of readings being written, one tag after the other.

    Parameters
    ----------
    path : Path
        Where.
    columns : sequence of str
        Those of LONG, with or without `displaced_by`.
    """

    def __init__(self, path: Path, columns: list[str]) -> None:
        self.schema = pa.schema([pa.field(name, _COLUMNS[name], name in _MAY_BE_NULL) for name in columns])
        self._writer = ParquetWriter(
            path,
            self.schema,
            compression={name: "snappy" if name in ("value", "raw") else "none" for name in columns},
            use_dictionary=[name for name in columns if name != "time"],
            column_encoding={"time": "DELTA_BINARY_PACKED"},
            write_statistics=["tag", "time"],
            write_batch_size=_BATCH_ROWS,
            store_schema=False,
        )

    def __enter__(self) -> "Groups":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._writer.close()

    def add(self, rows: pl.DataFrame) -> None:
        """Write the rows of one tag, sorted by time."""
        if rows.height:
            self._write([_arrow(rows[name], _COLUMNS[name]) for name in self.schema.names])

    def add_load(self, tag: str, source: str, rows: Alone) -> None:
        """Write new readings of one tag and one delivery: the same bytes as `add` writes, sooner."""
        count = len(rows.time)
        columns = {
            "tag": _one_word(tag, count),
            "time": _from_numpy(rows.time, _COLUMNS["time"]),
            "value": _value(rows),
            "quality": _quality(rows),
            "raw": _sparse(rows.said.raw, rows.odd, count) if rows.said else pa.nulls(count, _WORDS),
            "source": _one_word(source, count),
        }
        self._write([columns[name] for name in self.schema.names])

    def copy(self, table: pa.Table) -> None:
        """Write a group of another file, as `read_group` returned it."""
        self._write(table.columns)

    def _write(self, columns: list[pa.Array]) -> None:
        table = pa.Table.from_arrays(columns, schema=self.schema)
        self._writer.write_table(table, row_group_size=table.num_rows)


class Stored:
    """A file of readings to be read one tag at a time.

    Parameters
    ----------
    file : ParquetFile or None
        None holds no tags.
    """

    def __init__(self, file: ParquetFile | None) -> None:
        self._file = file
        self.places: dict[str, int] = {}
        if file:
            groups = file.metadata
            tags = (groups.row_group(at).column(0).statistics.min for at in range(groups.num_row_groups))
            self.places = {tag: at for at, tag in enumerate(tags)}

    def read_group(self, tag: str) -> pa.Table:
        """Return the rows of `tag` as they are written."""
        assert self._file
        return self._file.read_row_group(self.places[tag]).combine_chunks()


@contextmanager
def reading(path: Path) -> Iterator[Stored]:
    """Open a file of readings, if there is one."""
    if not path.exists():
        yield Stored(None)
        return
    try:
        stored = ParquetFile(path, read_dictionary=["tag", "quality", "raw", "source"])
    except pa.ArrowInvalid as error:
        remedy = (
            "put a copy back, or move it away and read its exports once more: stillwell ingest --again FILE…"
        )
        raise StillwellError(f"{path}: the file is damaged; {remedy}") from error
    with stored as file:
        yield Stored(file)


def write_readings(path: Path, rows: pl.DataFrame) -> None:
    """Write `rows` (LONG, with or without `displaced_by`), which are sorted by tag, atomically."""
    lengths = rows["tag"].rle().struct.field("len").to_list()

    def write(temporary: Path) -> None:
        start = 0
        with Groups(temporary, rows.columns) as groups:
            for length in lengths:
                groups.add(rows[start : start + length])
                start += length

    replace_file(path, write)


def read_readings(path: Path) -> pl.DataFrame:
    """Return the rows of a file made by `write_readings`."""
    return scan_readings([path]).collect()


def scan_readings(paths: list[Path]) -> pl.LazyFrame:
    """Return one lazy frame over `paths`; LONG, and `displaced_by` where the files have it."""
    if not paths:
        return pl.LazyFrame(schema=LONG)
    rows = pl.scan_parquet(paths, hive_partitioning=False, glob=False)
    return rows.with_columns(pl.col("quality").cast(QUALITY))


def long_of(table: pa.Table) -> pl.DataFrame:
    """Return a group as LONG."""
    frame = pl.from_arrow(table)
    assert isinstance(frame, pl.DataFrame)
    words = [pl.col(name).cast(pl.String) for name in LONG if _COLUMNS[name] == _WORDS]
    return conform(frame.with_columns(words), LONG)


def _arrow(values: pl.Series, dtype: pa.DataType) -> pa.Array:
    """Return a column for the writer; words as a dictionary in the order in which they first appear."""
    if dtype != _WORDS:
        array = values.to_arrow()
        return array if array.type == dtype else array.cast(dtype)
    if values.has_nulls():
        return _sparse(values, np.arange(len(values)), len(values))
    if isinstance(values.dtype, pl.Enum):
        return _of_few(values.to_physical().to_numpy(), _categories(values.dtype))
    words = values.cast(pl.String)
    if words[0] == words[-1] and (words == words[0]).all():
        return _one_word(words[0], len(words))
    return _dictionary(*_numbered(words))


def _numbered(words: pl.Series) -> tuple[np.ndarray, list[str]]:
    """Return the place of each word among the distinct ones, -1 for none, and those as they first appear."""
    if len(words) < _FEW:
        place: dict[str | None, int] = {None: -1}
        found = np.array([place.setdefault(word, len(place) - 1) for word in words.to_list()])
        return found, [word for word in place if word is not None]
    distinct = words.unique(maintain_order=True).drop_nulls()
    number = words.cast(pl.Enum(distinct)).to_physical().cast(pl.Int32).fill_null(-1)
    return number.to_numpy(), distinct.to_list()


def _of_few(code: np.ndarray, known: tuple[str, ...]) -> pa.Array:
    """Return words by their place in `known`, numbered anew in the order in which they first appear."""
    place, words = _met(code, known)
    return _one_word(words[0], len(code)) if len(words) == 1 else _dictionary(np.take(place, code), words)


def _met(code: np.ndarray, known: tuple[str, ...]) -> tuple[np.ndarray, list[str]]:
    """Return the number of each of `known` in the order of first appearance, and those that appear, so."""
    first = {at: int(np.argmax(code == at)) for at in range(len(known))}
    found = sorted((at for at in first if code[first[at]] == at), key=first.__getitem__)
    place = np.zeros(len(known), np.int32)
    place[found] = np.arange(len(found))
    return place, [known[at] for at in found]


def _value(rows: Alone) -> pa.Array:
    none = rows.odd[np.isnan(rows.value[rows.odd])]
    there = np.ones(len(rows.value), bool) if len(none) else None
    if there is not None:
        there[none] = False
    return _from_numpy(rows.value, _COLUMNS["value"], there)


def _quality(rows: Alone) -> pa.Array:
    if rows.said is None or not rows.said.quality.any():
        return _one_word(QUALITIES[0], len(rows.time))
    code = np.zeros(len(rows.time), np.uint8)
    code[rows.odd] = rows.said.quality
    place, words = _met(code, QUALITIES)
    number = np.full(len(code), place[0], np.int32)
    number[rows.odd] = place[rows.said.quality]
    return _dictionary(number, words)


def _sparse(words: pl.Series, at: np.ndarray, count: int) -> pa.Array:
    """Return words that stand at some places; there is none elsewhere."""
    nulls = words.null_count()
    if nulls == len(words):
        return pa.nulls(count, _WORDS)
    found, distinct = _numbered(words.cast(pl.String))
    if nulls:
        at, found = at[found >= 0], found[found >= 0]
    number, there = np.zeros(count, np.int32), np.zeros(count, bool)
    number[at], there[at] = found, True
    return _dictionary(number, distinct, there)


@lru_cache(maxsize=64)
def _categories(words: pl.Enum) -> tuple[str, ...]:
    return tuple(words.categories)


def _dictionary(number: np.ndarray, words: list[str], there: np.ndarray | None = None) -> pa.Array:
    indices = _from_numpy(np.ascontiguousarray(number, np.int32), pa.int32(), there)
    return pa.DictionaryArray.from_arrays(indices, _words(tuple(words)), safe=False)


def _from_numpy(values: np.ndarray, dtype: pa.DataType, there: np.ndarray | None = None) -> pa.Array:
    # From the bytes: pyarrow's own constructors import pandas, to ask whether it is given any.
    known = None if there is None or there.all() else pa.py_buffer(np.packbits(there, bitorder="little"))
    return pa.Array.from_buffers(dtype, len(values), [known, pa.py_buffer(values)])


def _one_word(word: str, count: int) -> pa.Array:
    return pa.DictionaryArray.from_arrays(_zeros(count), _words((word,)), safe=False)


@lru_cache(maxsize=64)
def _zeros(count: int) -> pa.Array:
    return _from_numpy(np.zeros(count, np.int32), pa.int32())


@lru_cache(maxsize=256)
def _words(words: tuple[str, ...]) -> pa.Array:
    # From their bytes: casting the long strings of polars would first compile pyarrow's whole arithmetic.
    texts = [word.encode() for word in words]
    ends = np.cumsum([0, *map(len, texts)], dtype=np.int32).tobytes()
    return pa.StringArray.from_buffers(len(words), pa.py_buffer(ends), pa.py_buffer(b"".join(texts)))
