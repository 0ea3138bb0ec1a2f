"""Opener: what is packed is unpacked: a gzip file, every member of a zip, every sheet of a workbook."""

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pipeline.errors import Fault, RefusedError
from pipeline.ingest.workbook import sheets_of

GZIP = b"\x1f\x8b"
ZIP = b"PK\x03\x04"
_EMPTY_ZIP = b"PK\x05\x06"
_LARGEST_BYTES = 4 * 2**30
_DEPTH = 3
"""How deep archives within archives are opened."""
_NO_EXPORT = re.compile(r"(?:^|/)(?:__MACOSX/|\.|~\$|thumbs\.db$|desktop\.ini$)", re.IGNORECASE)


@dataclass(frozen=True)
class Member:
    """One export: a file, or a part of one that is an export of its own.

    Parameters
    ----------
    name : str
        As people find it: ``week.zip/north.csv``, ``book.xlsx/Sheet1``.
    data : bytes
        Its content, not packed; empty where `fault` says why there is none.
    fault : Fault or None
        Why this member cannot be read; the others can.
    """

    name: str
    data: bytes = b""
    fault: Fault | None = None


def is_container(start: bytes) -> bool:
    """Tell from a file's first bytes whether it has to be opened."""
    return start.startswith((GZIP, ZIP, _EMPTY_ZIP))


def opened(data: bytes, name: str, mark: str = ".") -> list[Member]:
    """Return every export that a file holds; a file that is not packed is its own only member.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        The file, as people know it.
    mark : {".", ","}
        The decimal mark that the file's text is going to be read with: a workbook's numbers are written so.

    Raises
    ------
    RefusedError
        The file is packed and cannot be opened, or holds nothing.
    """
    members = list(_members(data, name, mark, _DEPTH))
    if not members:
        raise RefusedError(name, "the archive holds no file", "pack it again; nothing was read from it")
    if len(members) == 1 and members[0].fault is not None:
        fault = members[0].fault
        raise RefusedError(fault.file, fault.problem, fault.remedy)
    return members


def _members(data: bytes, name: str, mark: str, depth: int) -> Iterator[Member]:
    if not is_container(data[:4]):
        yield Member(name, data)
        return
    try:
        if depth == 0:
            raise RefusedError(name, "this is an archive within archives", "unpack it first")
        if data.startswith(GZIP):
            yield from _members(_gunzipped(data, name), name, mark, depth - 1)
        else:
            yield from _zipped(data, name, mark, depth)
    except RefusedError as error:
        yield Member(name, fault=error.fault)


def _gunzipped(data: bytes, name: str) -> bytes:
    """Unpack every stream of a gzip file: recorders append to it."""
    unpacked = io.BytesIO()
    rest = data
    try:
        while rest.startswith(GZIP):
            stream = zlib.decompressobj(wbits=31)
            unpacked.write(stream.decompress(rest, _LARGEST_BYTES - unpacked.tell()))
            if not stream.eof:
                raise RefusedError(name, _cut_off(stream), "copy it again; nothing was read from it")
            rest = stream.unused_data
    except zlib.error as error:
        problem = f"the gzip file is damaged ({error})"
        raise RefusedError(name, problem, "copy it again; nothing was read from it") from error
    return unpacked.getvalue()


def _cut_off(stream: Any) -> str:
    return "the gzip file holds more than 4 GiB" if stream.unconsumed_tail else "the gzip file is cut off"


def _zipped(data: bytes, name: str, mark: str, depth: int) -> Iterator[Member]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        problem = f"the zip archive is damaged ({error})"
        raise RefusedError(name, problem, "copy it again; nothing was read from it") from error
    names = archive.namelist()
    if "[Content_Types].xml" in names or "mimetype" in names:
        for inside, found in sheets_of(data, name, names, mark):
            yield Member(inside, fault=found) if isinstance(found, Fault) else Member(inside, found)
        return
    for info in archive.infolist():
        # A damaged archive may hold a member without a name, which `is_dir` cannot bear.
        if info.filename.endswith("/") or _NO_EXPORT.search(info.filename):
            continue
        inside = f"{name}/{info.filename}"
        try:
            content = _content(archive, info, inside)
        except RefusedError as error:
            yield Member(inside, fault=error.fault)
            continue
        yield from _members(content, inside, mark, depth - 1)


def _content(archive: zipfile.ZipFile, info: zipfile.ZipInfo, name: str) -> bytes:
    if info.flag_bits & 1:
        raise RefusedError(name, "it is locked with a password", "pack it without one")
    if info.file_size > _LARGEST_BYTES:
        raise RefusedError(name, "it holds more than 4 GiB", "export a shorter time at once")
    try:
        with archive.open(info) as stream:
            return stream.read(info.file_size + 1)
    except Exception as error:  # damage shows in many ways: CRC, zlib, struct, end of file, unknown methods
        problem = f"it cannot be unpacked ({str(error) or type(error).__name__})"
        raise RefusedError(name, problem, "pack it again; the other members were read") from error
