"""Other loggers' CSV: read as found, laid over our time only where one shift stands out."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.casebook.alignment import find_offset
from locum.casebook.foreign import as_aux, read_log
from locum.casebook.kept_logs import attach_log, logs_of_drive
from locum.errors import FileTrouble, Misuse, Refused
from locum.review.chunk import AUX_SPEED, AUX_THROTTLE

PLAIN = "Time (s),Speed (mph),Throttle (%)\n0.0,0,10\n0.5,10.0,20\n1.0,20,30.5\n"


@pytest.mark.parametrize(
    ("text", "speeds"),
    [
        (PLAIN, [0.0, 16.09344, 32.18688]),
        ("t_ms;speed_kmh\n0;0,5\n100;1,5\n200;2,5\n", [0.5, 1.5, 2.5]),
        ("# logged on the road\ntime\tspeed [m/s]\n0\t1\n1\t2\n2\t3\n", [3.6, 7.2, 10.8]),
        ("Zeit;Speed\ns;km/h\n0;10\n1;20\n2;30\n", [10, 20, 30]),
        ("time,gap,speed (kph)\n2026-03-02T08:00:00Z,,1\n2026-03-02T08:00:01Z,,2\n"
         "2026-03-02T08:00:02Z,,3\n", [1, 2, 3]),
    ],
)  # fmt: skip
def test_speed_is_read_in_any_form(text, speeds):
    log = read_log(text.encode("utf-8"))
    [speed] = [c for c in log.channels.values() if c.quantity == "speed"]
    assert speed.values == pytest.approx(speeds)
    assert speed.unit == "km/h"


@pytest.mark.parametrize(
    ("column", "seconds"),
    [
        (["Time (s)", "0", "0.5", "1"], [0, 0.5, 1]),
        (["time [ms]", "100", "600", "1100"], [0, 0.5, 1]),
        (["time", "08:00:00.0", "08:00:00.5", "08:00:01"], [0, 0.5, 1]),
        (["timestamp", "1772434800.0", "1772434800.5", "1772434801.0"], [0, 0.5, 1]),
        (["timestamp", "1772434800000", "1772434800500", "1772434801000"], [0, 0.5, 1]),
        (["time", "2026-03-02 08:00:00", "2026-03-02 08:00:00.5", "2026-03-02 08:00:01"],
         [0, 0.5, 1]),
    ],
)  # fmt: skip
def test_time_is_read_in_any_form(column, seconds):
    head, *cells = column
    text = "\n".join([f"{head},x (V)", *(f"{cell},{n}" for n, cell in enumerate(cells))])
    [channel] = read_log(text).channels.values()
    assert channel.t_s == pytest.approx(seconds)


def test_time_of_day_is_known_where_the_file_tells_it():
    text = "time,x (V)\n2026-03-02T09:00:00+01:00,1\n2026-03-02T09:00:01+01:00,2\n"
    assert read_log(text).start_utc == datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
    assert read_log(PLAIN).start_utc is None


def test_fahrenheit_becomes_celsius():
    [channel] = read_log("time,ECT (°F)\n0,32\n1,212\n2,-40\n").channels.values()
    assert channel.values == pytest.approx([0, 100, -40])


def test_rows_out_of_order_and_gaps_are_left_out_and_counted():
    text = "time (s),speed (mph)\n0,1\n1,2\n0.5,9\n,9\nx,9\n2,\n3,4\n"
    log = read_log(text)
    assert (log.rows, log.left_out) == (7, 3)
    [speed] = log.channels.values()
    assert list(speed.t_s) == [0, 1, 2, 3]
    assert np.isnan(speed.values[2])


def test_speed_without_a_unit_is_not_guessed():
    text = "time,speed\n0,10\n1,20\n2,30\n"
    log = read_log(text, where="log.csv")
    assert [remark.code for remark in log.remarks] == ["unit_missing"]
    with pytest.raises(Misuse, match="give its unit|Give its unit"):
        as_aux(log.channels["speed"])
    told = read_log(text, units={"speed": "mph"})
    assert told.channels["speed"].values[0] == pytest.approx(16.09344)


@pytest.mark.parametrize("unit", ["MPH", " mph", "Mph "])
def test_a_unit_given_by_hand_counts_however_it_is_written(unit):
    log = read_log("time,speed\n0,10\n1,20\n", units={"speed": unit})
    assert log.channels["speed"].values == pytest.approx([16.09344, 32.18688])


@pytest.mark.parametrize(
    "text", ["", "hello", "a,b\n1,2\n", "a,b\n1,2\n3,4\n5,6\n", "time,x\nq,1\nw,2\ne,3\n"]
)
def test_what_is_no_log_is_told(text):
    with pytest.raises(FileTrouble) as error:
        read_log(text, where="odd.csv")
    assert error.value.remarks[0].remedy


def test_missing_time_column_names_those_there():
    with pytest.raises(FileTrouble, match="'Speed'|'Speed \\(mph\\)'"):
        read_log("clock,Speed (mph)\n0,1\n1,2\n2,3\n", time="when")


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_told(data):
    try:
        log = read_log(data)
    except FileTrouble:
        return
    assert log.channels


def test_channels_become_rows_of_the_record():
    log = read_log(PLAIN)
    speed = as_aux(log.channels["Speed"], offset_s=10.0)
    assert list(speed["t_ms"]) == [10_000, 10_500, 11_000]
    assert set(speed["channel"]) == {AUX_SPEED}
    assert list(speed["value"]) == [0, 1609, 3219]
    throttle = as_aux(log.channels["Throttle"], offset_s=-0.6)
    assert list(throttle["t_ms"]) == [400]
    assert list(throttle["value"]) == [15250]
    assert throttle["channel"][0] == AUX_THROTTLE


# Laying it over ours ------------------------------------------------------------------------


def town(seed, seconds=900):
    """A pedal in town traffic: on, off, never twice alike."""
    chance = np.random.default_rng(seed)
    t = np.arange(0, seconds, 0.1)
    x = np.zeros_like(t)
    at = 0.0
    while at < seconds:
        long, high = chance.uniform(2, 20), chance.uniform(0, 60)
        x[(t >= at) & (t < at + long)] = high
        at += long
    return t, np.convolve(x, np.ones(10) / 10, "same")


@pytest.mark.parametrize("offset_s", [0.0, 3.7, -42.35, 250.0])
def test_offset_is_found_where_both_saw_the_same(offset_s):
    t, x = town(3)
    chance = np.random.default_rng(9)
    theirs_t = np.arange(100, 700, 0.5)
    theirs = 2.0 * np.interp(theirs_t, t, x) + 5 + chance.normal(0, 2.0, len(theirs_t))
    found = find_offset(t, x, theirs_t - offset_s, theirs)
    assert found.trusted
    assert found.offset_s == pytest.approx(offset_s, abs=0.1)
    assert abs(found.offset_s - offset_s) <= 3 * found.u_s
    assert found.correlation > 0.9


def test_unlike_logs_are_not_trusted():
    (t, x), (_, other) = town(3), town(4)
    found = find_offset(t, x, t, other)
    assert not found.trusted
    assert found.remarks[0].code == "logs_unlike"


def test_what_repeats_is_not_trusted():
    t = np.arange(0, 900, 0.1)
    x = np.sin(2 * np.pi * t / 30)
    found = find_offset(t, x, t[:6000], x[300:6300])
    assert not found.trusted
    assert found.remarks[0].code == "logs_ambiguous"


def test_standing_still_matches_nothing():
    t = np.arange(0, 600, 0.1)
    assert not find_offset(t, np.full_like(t, 20.0), t, np.full_like(t, 3.0)).trusted


def test_slow_warm_up_alone_does_not_align():
    t = np.arange(0, 1800, 1.0)
    x = 90 - 75 * np.exp(-t / 400)
    chance = np.random.default_rng(2)
    found = find_offset(t, x + chance.normal(0, 0.3, len(t)), t, x + chance.normal(0, 0.3, len(t)))
    assert not found.trusted


def test_search_can_be_kept_near():
    t, x = town(5)
    near = find_offset(t, x, t - 200.0, x, within_s=60.0)
    assert not near.trusted
    assert find_offset(t, x, t - 50.0, x, within_s=60.0).offset_s == pytest.approx(50.0, abs=0.1)


def test_log_is_kept_with_its_drive_and_read_the_same_again(store, tmp_path):
    path = tmp_path / "road.csv"
    path.write_text(PLAIN, "utf-8")
    case_id = store.new_case({"title": "t"})
    drive_id = store.begin_drive("listen", case_id)
    t, x = town(3)
    offset = find_offset(t, x, t - 12.0, x)
    attach_log(store, case_id, drive_id, path, offset, author="Ilves")
    attach_log(store, case_id, drive_id, path, offset, units={"Speed": "km/h"})
    [(log, offset_s)] = logs_of_drive(store, drive_id)
    assert offset_s == pytest.approx(12.0, abs=0.1)
    assert log.channels["Speed"].values[1] == 10.0
    with pytest.raises(Refused, match="correlation"):
        attach_log(store, case_id, drive_id, path, find_offset(t, x, t, town(8)[1]))
    assert logs_of_drive(store, store.begin_drive("hold")) == []


@pytest.mark.parametrize(
    "text",
    ["time,v\n1e300,1\n2e300,2\n3e300,3\n", "time;v\n9999-12-30;1\n9999-12-31;2\n0001-01-01;3\n"],
)
def test_times_beyond_every_calendar_are_times_without_a_date(text):
    log = read_log(text)
    assert log.rows == 3


def test_a_file_with_a_field_without_end_is_no_table():
    with pytest.raises(FileTrouble):
        read_log(f"time,v\n{'9' * 200_000},1\n1,2\n2,3\n")
