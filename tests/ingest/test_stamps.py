"""Times as written: against the standard library's own clock, and both nights of the time change."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock import zone_of
from pipeline.config.load import Plant
from pipeline.errors import RefusedError
from pipeline.ingest.export import read_export
from pipeline.ingest.forms import LOCAL_FORMS, NAMED_FORMS, Order
from pipeline.ingest.orders import order_of
from pipeline.ingest.stamps import read_stamps

DENVER = zone_of("America/Denver")


def _read(
    texts: list[str], order: Order | None = "month_first", zone: str = "America/Denver"
) -> pl.DataFrame:
    raw = pl.DataFrame({"tag": ["A"] * len(texts), "when": texts, "line": range(2, len(texts) + 2)})
    return read_stamps(raw, zone_of(zone), order, "x.csv", one_a_line=False)


# ISO 8601-1:2019, 5.4.2: complete and reduced forms, Z and offsets; a space for T is common practice.
@pytest.mark.parametrize(
    "text",
    [
        "2026-01-05T14:30:00",
        "2026-01-05T14:30",
        "2026-01-05 14:30:00",
        "2026-01-05 14:30",
        "2026-01-05 14:30:00.000",
        "2026-01-05T21:30:00Z",
        "2026-01-05 21:30Z",
        "2026-01-05T14:30:00-07:00",
        "2026-01-05T14:30:00.000-07:00",
        "2026-01-05T14:30-0700",
        "2026-01-05 14:30:00 -07:00",
        "2026-01-05T22:30:00+01:00",
        "01/05/2026 14:30",
        "1/5/2026 14:30:00",
        "01/05/2026 02:30 PM",
        "01/05/2026 2:30:00 pm",
        "1/5/26 14:30",
        "01-05-2026 14:30",
        "01.05.2026 14:30",
        "2026/01/05 14:30",
        "2026-01-05 02:30 PM",
        "01/05/2026 2:30PM",
        "01/05/2026 2:30 p.m.",
        "01/05/2026 02:30:00.000 PM",
        "05-Jan-2026 14:30",
        "05-JAN-26 14:30:00",
        "5 January 2026 2:30 PM",
        "Jan 5, 2026 2:30 PM",
        "Mon 05 Jan 2026 14:30",
        "2026-01-05 14:30:00,000",
        "2026-01-05 21:30 UTC",
        "20260105T213000Z",
        "20260105 1430",
    ],
)
def test_one_instant_in_every_form(text: str) -> None:
    # Denver is seven hours behind UTC in January (tz database).
    frame = _read([text])
    assert frame["time"].to_list() == [datetime(2026, 1, 5, 21, 30, tzinfo=ZoneInfo("UTC"))]
    assert frame["time_reason"].to_list() == [None]


# 1 767 648 600 s: `date -u -d @1767648600` of GNU coreutils. 46027.604166… is 5 January 2026, 14:30 in the
# 1900 date system (ECMA-376 part 1, 18.17.4.1): 46 023 is 1 January 2026 there (any spreadsheet shows it).
@pytest.mark.parametrize(
    "text",
    [
        "1767648600",
        "1767648600.0",
        "1767648600000",
        "46027.6041666667",
        "46027,60417",
        "202601051430",
        "20260105143000",
    ],
)
def test_one_instant_in_every_number(text: str) -> None:
    assert _read([text])["time"].to_list() == [datetime(2026, 1, 5, 21, 30, tzinfo=UTC)]


def test_a_number_among_dates_is_no_time() -> None:
    frame = _read(["2026-01-05 00:00", "2026-01-05 00:15", "1767648600"])
    assert frame["time_reason"].to_list() == [None, None, "'1767648600' is not a time we know"]


# ISO 8601-1:2019/Amd 1:2022: 24:00 is the end of a day, and the same instant as 00:00 of the next.
@pytest.mark.parametrize(
    "text", ["2026-12-31 24:00", "2026-12-31T24:00:00", "12/31/2026 24:00", "31-Dec-2026 24:00"]
)
def test_the_end_of_a_day_is_the_start_of_the_next(text: str) -> None:
    assert _read([text], zone="UTC")["time"].to_list() == [datetime(2027, 1, 1, tzinfo=UTC)]


def test_no_other_time_past_midnight_is_one() -> None:
    assert _read(["2026-12-31 24:01", "2026-12-31 24:00:01", "2026-12-31 25:00"])["time"].null_count() == 3


def test_fractions_of_a_second() -> None:
    times = _read(
        ["2026-01-05 00:00:00.25", "2026-01-05 00:00:00,250", "2026-01-05 00:00:00.250000"], zone="UTC"
    )
    assert times["time"].to_list() == [datetime(2026, 1, 5, 0, 0, 0, 250_000, tzinfo=UTC)] * 3


def test_before_the_plant_and_after_the_file_was_read() -> None:
    raw = pl.DataFrame(
        {
            "tag": "A",
            "when": ["2014-12-31 23:59", "2015-01-01", "2027-01-02", "2027-01-02 00:01"],
            "line": [2, 3, 4, 5],
        }
    )
    bounds = (datetime(2015, 1, 1, tzinfo=UTC), datetime(2027, 1, 2, tzinfo=UTC))
    reasons = read_stamps(raw, UTC, "month_first", "x", False, *bounds)["time_reason"].to_list()
    assert reasons == [
        "'2014-12-31 23:59' is before not_before in config/plant.toml, [reading]",
        None,
        None,
        "'2027-01-02 00:01' is more than a day later than the file was read",
    ]


def test_a_recording_that_runs_on_through_midnight_tells_the_order() -> None:
    # Read with the day first, the second stamp is 30 minutes after the first; with the month first, a month.
    assert order_of(pl.Series(["03/04/2026 23:45", "04/04/2026 00:15"]), "x") == "day_first"
    assert order_of(pl.Series(["04/03/2026 23:45", "04/04/2026 00:15"]), "x") == "month_first"


@pytest.mark.parametrize("texts", [["01/02/2026", "01/03/2026"], ["03/04/2026 10:00", "03/04/2026 10:15"]])
def test_days_or_months_apart_tell_nothing(texts: list[str]) -> None:
    with pytest.raises(RefusedError, match="can be read both ways"):
        order_of(pl.Series(texts), "x")


def test_a_year_of_two_digits_in_front_is_not_taken_for_a_day() -> None:
    with pytest.raises(RefusedError, match="begin with a year of two digits"):
        order_of(pl.Series(["26/01/05 23:45", "26/01/06 00:00"]), "x")


def test_midnight_and_noon_of_a_twelve_hour_clock() -> None:
    # 12 AM is midnight, 12 PM noon: US Government Publishing Office Style Manual (from memory).
    times = _read(["01/05/2026 12:00 AM", "01/05/2026 12:00 PM"], zone="UTC")["time"]
    assert [time.hour for time in times] == [0, 12]


def test_a_date_alone_is_its_midnight() -> None:
    times = _read(["01/05/2026", "2026-01-05"], zone="UTC")["time"].to_list()
    assert times == [datetime(2026, 1, 5, tzinfo=ZoneInfo("UTC"))] * 2


@pytest.mark.parametrize(
    "text",
    ["", "soon", "2026-13-01 00:00", "02/30/2026 10:00", "01/05/2026 25:00", "45000.5", "0026-01-05 10:00"],
)
def test_what_is_no_time_says_so(text: str) -> None:
    frame = _read([text, "2026-01-05 00:00"])
    assert frame["time"].null_count() == 1
    assert frame["time_reason"][0] == f"'{text}' is not a time we know"


def test_the_whole_file_tells_the_order() -> None:
    assert order_of(pl.Series(["03/04/2026 00:00", "03/13/2026 00:00"]), "x") == "month_first"
    assert order_of(pl.Series(["03/04/2026 00:00", "13/04/2026 00:00"]), "x") == "day_first"
    assert order_of(pl.Series(["03/03/2026 00:00", "2026-04-03"]), "x") in ("month_first", "day_first")


def test_a_file_that_can_be_read_both_ways_is_refused_with_both_readings() -> None:
    with pytest.raises(RefusedError) as refused:
        _read(["2026-01-01 00:00", "03/04/2026 00:00"], order=None)
    assert (
        "4 March 2026 with the month first and 3 April 2026 with the day first" in refused.value.fault.problem
    )
    assert "date_order" in refused.value.fault.remedy


def test_the_order_the_plant_says_holds() -> None:
    assert _read(["03/04/2026"], "month_first", "UTC")["time"][0].month == 3
    assert _read(["03/04/2026"], "day_first", "UTC")["time"][0].month == 4
    assert _read(["13/04/2026"], "month_first", "UTC")["time"][0] is None


# tz database, America/Denver 2026: on 8 March 02:00 becomes 03:00 (09:00Z), on 1 November 02:00 becomes 01:00
# (08:00Z).
def test_the_spring_night_has_92_quarter_hours() -> None:
    wall = [datetime(2026, 3, 8) + timedelta(minutes=15 * step) for step in range(96)]
    frame = _read([f"{when:%Y-%m-%d %H:%M}" for when in wall])
    times = frame["time"].drop_nulls()
    assert len(times) == 92
    assert (times.diff().drop_nulls() == timedelta(minutes=15)).all()
    assert (
        frame["time_reason"][8]
        == "'2026-03-08 02:00' never was on the plant's clock (the hour skipped in spring)"
    )


@pytest.mark.parametrize("backwards", [False, True])
def test_the_autumn_night_has_100_quarter_hours(backwards: bool) -> None:
    instants = [datetime(2026, 11, 1, 6, tzinfo=UTC) + timedelta(minutes=15 * step) for step in range(100)]
    if backwards:
        instants.reverse()
    wall = [f"{instant.astimezone(ZoneInfo('America/Denver')):%m/%d/%Y %I:%M %p}" for instant in instants]
    assert len(set(wall)) == 96
    assert _read(wall)["time"].to_list() == instants


def test_a_plant_on_standard_time_has_neither_night() -> None:
    wall = ["2026-03-08 02:30", "2026-11-01 01:30", "2026-11-01 01:30"]
    times = _read(wall, zone="-07:00")["time"].to_list()
    assert times == [datetime(2026, 3, 8, 9, 30, tzinfo=UTC), *[datetime(2026, 11, 1, 8, 30, tzinfo=UTC)] * 2]


def test_a_column_file_tells_the_two_passes_apart_by_its_lines(plant: Plant) -> None:
    # Only the second pass has a reading of YS-1; the lines above it show that the clock has stepped back.
    lines = [
        "Time,AIT-2,YS-1",
        "2026-11-01 01:00,1,",
        "2026-11-01 01:30,1,",
        "2026-11-01 01:00,1,",
        "2026-11-01 01:30,1,1",
    ]
    readings = read_export("\n".join(lines).encode(), "x", "s", plant).readings
    assert readings.filter(tag="YS-1")["time"].to_list() == [datetime(2026, 11, 1, 8, 30, tzinfo=UTC)]
    assert readings.filter(tag="AIT-2")["time"].dt.hour().to_list() == [7, 7, 8, 8]


def test_forms_mixed_in_one_file() -> None:
    texts = ["2026-01-05 14:30"] * 50 + ["01/05/2026 02:30 PM", "2026-01-05T21:30Z", "soon"]
    times = _read(texts)["time"]
    assert times.n_unique() == 2
    assert times.null_count() == 1


@given(
    st.datetimes(datetime(1990, 1, 1), datetime(2068, 12, 31)),
    st.sampled_from(
        [(order, form) for order, forms in LOCAL_FORMS.items() for form in (*forms, *NAMED_FORMS)]
    ),
)
def test_what_the_standard_library_writes_is_read_back(when: datetime, case: tuple[Order, str]) -> None:
    order, form = case
    style = form.replace("%.f", ".%f")
    expected = datetime.strptime(when.strftime(style), style)
    found = _read([when.strftime(style)], order, "UTC")["time"][0]
    assert found.replace(tzinfo=None) == expected
