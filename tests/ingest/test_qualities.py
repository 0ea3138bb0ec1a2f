"""Quality words and codes, against the two OPC specifications."""

import polars as pl
import pytest

from pipeline.ingest.qualities import read_qualities


def _read(texts: list[str | None]) -> list[str | None]:
    return read_qualities(pl.Series(texts, dtype=pl.String))["quality"].to_list()


# OPC Data Access (classic) quality byte QQSSSSLL: 192 and more good, 64 to 191 uncertain, below bad.
# Of the same table: 216 local override; 80 sensor not accurate; 16 sensor failure, 24 comm failure.
@pytest.mark.parametrize(
    ("quality", "codes"),
    [("good", (192, 216, 255)), ("uncertain", (64, 80, 191)), ("bad", (0, 16, 20, 24, 63))],
)
def test_opc_classic(quality: str, codes: tuple[int, ...]) -> None:
    assert _read(["192", *map(str, codes)])[1:] == [quality] * len(codes)


def test_every_byte_of_opc_classic() -> None:
    found = _read([str(code) for code in range(256)])
    assert found == ["bad"] * 64 + ["uncertain"] * 128 + ["good"] * 64


# OPC UA Part 4, StatusCode: bits 31-30 are the severity, 00 good, 01 uncertain, 10 bad.
@pytest.mark.parametrize(
    ("code", "quality"),
    [
        (0x00000000, "good"),
        (0x00960000, "good"),  # GoodLocalOverride
        (0x40000000, "uncertain"),
        (0x40900000, "uncertain"),  # UncertainLastUsableValue
        (0x80000000, "bad"),
        (0x80310000, "bad"),  # BadNoCommunication
    ],
)
def test_opc_ua(code: int, quality: str) -> None:
    bad = 0x80000000
    assert _read([str(bad), str(code)])[1] == quality
    assert _read([hex(bad), f"0x{code:08X}"])[1] == quality
    assert _read([str(bad - 2**32), str(code - 2**32 if code >= 2**31 else code)])[1] == quality


def test_nothing_but_zero_is_not_evidence_of_good() -> None:
    # 0 is bad in OPC classic and good in OPC UA.
    assert _read(["0", "0"]) == ["uncertain", "uncertain"]


def test_the_plant_says_which_codes_it_has() -> None:
    zeros = pl.Series(["0", "0"])
    assert read_qualities(zeros, "classic")["quality"].to_list() == ["bad", "bad"]
    assert read_qualities(zeros, "ua")["quality"].to_list() == ["good", "good"]


def test_a_vendors_own_byte_above_the_classic_one_changes_nothing() -> None:
    # OPC Data Access 3.00, 6.8: the low 8 bits are the quality, the high 8 are the vendor's.
    assert read_qualities(pl.Series(["448", "280"]), "classic")["quality"].to_list() == ["good", "bad"]


def test_a_code_with_its_word() -> None:
    assert _read(["192 - Good", "0x80000000 (Bad)", "Bad [24]"]) == ["good", "bad", "bad"]


def test_words() -> None:
    assert _read(["Good", "GOOD, Local Override", "Uncertain", "bad - comm fail", None, ""]) == [
        "good",
        "good",
        "uncertain",
        "bad",
        None,
        None,
    ]


def test_what_is_neither_is_refused_by_name() -> None:
    frame = read_qualities(pl.Series(["fine", "Good"]))
    assert frame["quality_reason"].to_list() == ["quality 'fine' is not a word or code we know", None]
