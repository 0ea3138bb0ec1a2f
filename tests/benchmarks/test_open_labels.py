"""Labels of probe records, on slices of them; credit: tests/records/README.md."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl

from benchmarks.open_records_labels import KINDS, deployments, events_of, read_record
from benchmarks.open_records_probe import rows, station

RECORDS = Path(__file__).parents[1] / "records"
FLAGGED, WATER = RECORDS / "flagged-2020-08.csv", RECORDS / "water-2018-11.csv"


def test_stamps_are_standard_time_all_year() -> None:
    """The first line reads 08/03/2020 20:45, Eastern Standard Time (UTC-5)."""
    assert read_record(FLAGGED, -5)["time"][0] == datetime(2020, 8, 4, 1, 45, tzinfo=UTC)


def test_a_rejected_stretch_is_sensor_drift() -> None:
    """``grep "<-3> .SSD." flagged-2020-08.csv``: DO_Pct from 6:45 on the 4th to the last line, 20:30."""
    drift = [one for one in events_of(read_record(FLAGGED, -5)) if one.tag == "AIT-2"]
    assert [(one.kinds, one.is_sure) for one in drift] == [(frozenset({"drift"}), True)]
    assert drift[0].begin == datetime(2020, 8, 4, 11, 45, tzinfo=UTC)
    assert drift[0].end == datetime(2020, 8, 5, 1, 45, tzinfo=UTC)


def test_a_comment_adds_its_kind_and_suspect_is_not_sure() -> None:
    """ChlFluor is flagged ``<1> [SSD] (CBF)``: suspect, sensor drift, bio-fouling."""
    events = [one for one in events_of(read_record(FLAGGED, -5)) if one.tag == "AIT-5"]
    assert [one.kinds for one in events if not one.is_sure] == [frozenset({"drift", "fouling"})]


def test_a_block_of_sentinels_is_one_event_a_tag() -> None:
    """From 13:00 on the 13th to midnight the record reads -99, -1210.73 and -1211, all flagged -4."""
    late = datetime(2018, 11, 13, 19, tzinfo=UTC)
    blocks = [one for one in events_of(read_record(WATER, -6)) if "block" in one.kinds and one.end > late]
    assert [one.tag for one in blocks] == ["AIT-1", "AIT-2", "AIT-3", "AIT-4", "LIT-1", "TIT-1"]
    assert {one.begin for one in blocks} == {late}


def test_the_failed_sensor_is_named_where_the_code_stands_beside_others_too() -> None:
    when = pl.datetime_range(datetime(2020, 1, 1), datetime(2020, 1, 1, 2), "15m", eager=True)
    flags = [*["<0> "] * 4, *["<-3> [SCF] "] * 2, *["<0> "] * 3]
    record = pl.DataFrame(
        {
            "time": when.dt.replace_time_zone("UTC"),
            "SpCond": ["1.0"] * 9,
            "F_SpCond": ["<0> "] * 9,
            "Depth": ["2.0"] * 9,
            "F_Depth": flags,
        }
    )
    (event,) = events_of(record)
    assert (event.tag, event.kinds) == ("AIT-1", frozenset({"malfunction"}))
    assert event.end - event.begin == timedelta(minutes=30)


def test_a_fresh_probe_is_a_line_of_the_logbook_and_no_event() -> None:
    """The legend: CND, new deployment begins; it stands for every sensor of a probe on its first line."""
    record = pl.DataFrame(
        {
            "time": [datetime(2018, 4, 20, 22, minute, tzinfo=UTC) for minute in (15, 30)],
            "Temp": ["2.4", "2.3"],
            "F_Temp": ["<0> (CND)", "<0> "],
            "pH": ["", "7.7"],
            "F_pH": ["<-2> [GNF]", "<0> (CND)"],
        }
    )
    assert deployments(record) == [("Temp", record["time"][0]), ("pH", record["time"][1])]
    assert events_of(record) == []


def test_sentinels_that_nobody_flagged_are_a_block_too() -> None:
    when = pl.datetime_range(datetime(2020, 1, 1), datetime(2020, 1, 1, 5), "15m", eager=True)
    record = pl.DataFrame(
        {
            "time": when.dt.replace_time_zone("UTC"),
            "pH": ["7.0"] * 4 + ["-99.0"] * 9 + ["7.1"] * 8,
            "F_pH": ["<0> "] * 21,
        }
    )
    (event,) = events_of(record)
    assert (event.kinds, event.end - event.begin) == (frozenset({"block"}), timedelta(minutes=135))


def test_every_kind_that_a_code_names_has_findings_that_name_it() -> None:
    from benchmarks.open_records_scoring import FOUND_BY

    assert {*KINDS.values(), "block"} == FOUND_BY.keys()


def test_a_slice_goes_through_the_whole_job_and_its_blocks_are_found(tmp_path: Path) -> None:
    """Two days without lines and eleven hours of sentinels: gaps, all of them."""
    held = tmp_path / "lksxxwq2018.csv"
    held.write_bytes(WATER.read_bytes())
    one = station("lksxx", [held])
    by_id = {row.id: row for row in rows([one])}
    assert by_id["detection-open-probe-unread"].figure == 0.0
    assert by_id["detection-open-probe-block-recall"].figure == 1.0
    assert by_id["detection-open-probe-block-recall"].n == 12
    assert by_id["detection-open-probe-false-per-month"].figure == 0.0
    # Nothing of eleven days is known of the fluorometer: its column is empty.
    assert "AIT-5" not in one.good
