"""Raw slots to arrays: what goes into the ring comes out, however it is cut into blocks."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import LinkTrouble
from locum.recording.decode import Decoder
from locum.review.chunk import OPEN_MILLIOHM, Chunk
from locum_board import records
from locum_board.room import Room


class Hands:
    bucket_ms = 10
    boot_id = 4
    node_full_0v1mv = 66000
    range_milliohm = (1_500_000, 12_050_000, 100_750_000)


def new_ring(slots=6000, start_ms=0):
    ring = records.Ring(Room(slots))
    ring.clear(start_ms)
    return ring


def put_sample(
    ring, start_ms, span=1, node=(100, 100, 100), ohm=(700, 700, 700), source=0, range_=1
):
    word = source << 12 | range_ << 10 | span << 3 | 5
    ring.sample(start_ms, 10, word, node[1] * 16, ohm[1] * 16, node[0], node[2], ohm[0], ohm[2])


def blocks_of(ring, sizes):
    found = []
    for size in sizes:
        found.append(bytes(ring.take(size, Hands)))
    while ring.waiting():
        found.append(bytes(ring.take(500, Hands)))
    return found


def joined(chunks):
    whole = Chunk(chunks[0].start_ms, chunks[-1].end_ms)
    for item in dataclasses.fields(Chunk)[2:]:
        setattr(whole, item.name, np.concatenate([getattr(c, item.name) for c in chunks]))
    return whole


def same(one, other):
    assert (one.start_ms, one.end_ms) == (other.start_ms, other.end_ms)
    for item in dataclasses.fields(Chunk)[2:]:
        np.testing.assert_array_equal(getattr(one, item.name), getattr(other, item.name))


def test_a_sample_in_volts_and_ohms():
    ring = new_ring()
    put_sample(ring, 0, 7, (1000, 1024, 1034), (690, 703, 710), source=1, range_=1)
    row = Decoder().feed(bytes(ring.take(10, Hands))).samples[0]
    assert (row["t_ms"], row["span_ms"], row["count"], row["source"]) == (0, 70, 70, 1)
    assert row["node_mean"] == 16500  # 1024 of 4096 of 6.6 V
    assert row["node_min"] == round(1000 / 4096 * 66000)
    assert row["node_max"] == round(1034 / 4096 * 66000)
    assert row["ohm_mean"] == round(12_050_000 * 703 / (4096 - 703))
    assert row["ohm_min"] == round(12_050_000 * 690 / (4096 - 690))


def test_lively_open_and_unread_samples():
    ring = new_ring()
    put_sample(ring, 0, 1, (5, 2000, 4095), (0, 2048, 4095))
    put_sample(ring, 10, 1, range_=3)
    rows = Decoder().feed(bytes(ring.take(10, Hands))).samples
    assert rows["node_max"][0] == round(4095 / 4096 * 66000)
    assert rows["node_min"][0] == round(5 / 4096 * 66000)
    assert (rows["ohm_min"][0], rows["ohm_max"][0]) == (0, OPEN_MILLIOHM)
    assert rows["ohm_mean"][0] == 12_050_000
    assert list(rows[1])[6:9] == [-1, -1, -1]


def test_every_kind_of_event():
    ring = new_ring(start_ms=500)
    put_sample(ring, 500, 100)
    ring.event(records.EDGE, 3 << 1 | 1, 600, 0)
    ring.event(records.DUTY, 2, 650, 333)
    ring.event(records.MARK, 0, 700, 0)
    ring.event(records.MOVE, records.MOVE_STEP, 710, 7140)
    ring.event(records.MOVE, records.MOVE_STEP, 711, 0xFFFF)
    ring.event(records.STATE, 5, 720, 6)
    ring.event(records.AUX, 4, 730, -12345)
    ring.event(records.AUX, 4, 731, 100_000)
    ring.event(records.NOTE, 1, 732, 0)
    chunk = Decoder().feed(bytes(ring.take(50, Hands)))
    assert list(chunk.edges[0]) == [100, 3, 1]
    assert list(chunk.duties[0]) == [150, 2, 333]
    assert list(chunk.marks[0]) == [200, 0, 0]
    assert [list(row) for row in chunk.moves] == [[210, 2, 35700], [211, 2, 0]]
    assert list(chunk.states[0]) == [220, 5, 6]
    assert [row["value"] for row in chunk.aux] == [-12345, 100_000]


def test_events_wait_for_the_samples_of_their_time():
    ring = new_ring()
    decoder = Decoder()
    ring.event(records.EDGE, 3, 450, 0)
    first = decoder.feed(bytes(ring.take(50, Hands)))
    assert (first.end_ms, len(first.edges)) == (0, 0)
    put_sample(ring, 0, 100)
    ring.event(records.EDGE, 2, 1450, 0)
    second = decoder.feed(bytes(ring.take(50, Hands)))
    assert (second.end_ms, list(second.edges["t_ms"])) == (1000, [450])
    last = decoder.finish()
    assert (last.start_ms, last.end_ms, list(last.edges["t_ms"])) == (1000, 1451, [1450])


def test_clock_wraps_within_a_record():
    start = (1 << 30) - 1500
    ring = new_ring(start_ms=start)
    for number in range(5):
        at = (start + 1000 * number) & 0x3FFFFFFF
        put_sample(ring, at, 100)
        ring.event(records.EDGE, 2, (at + 990) & 0x3FFFFFFF, 0)
    chunk = joined([Decoder().feed_many(blocks_of(ring, [3, 2, 2]))])
    assert list(chunk.samples["t_ms"]) == [0, 1000, 2000, 3000, 4000]
    assert list(chunk.edges["t_ms"]) == [990, 1990, 2990, 3990, 4990]


def test_missing_block_is_a_gap():
    ring = new_ring()
    for number in range(9):
        put_sample(ring, 1000 * number, 100)
    found = blocks_of(ring, [3, 3, 3])
    chunk = Decoder().feed_many([found[0], *found[2:]])
    assert [list(row) for row in chunk.gaps] == [[2000, 5000, 3]]
    assert chunk.end_ms == 9000


def test_hole_in_time_is_a_gap_though_nothing_was_lost():
    ring = new_ring()
    put_sample(ring, 0, 50)
    put_sample(ring, 700, 30)
    chunk = Decoder().feed(bytes(ring.take(50, Hands)))
    assert [list(row) for row in chunk.gaps] == [[500, 700, 0]]


def test_full_ring_keeps_the_old_counts_the_new_and_has_room_for_events():
    ring = new_ring(slots=100)
    for number in range(80):
        put_sample(ring, 10 * number)
    ring.event(records.STATE, 0, 800, 3)
    decoder = Decoder()
    first = decoder.feed(bytes(ring.take(500, Hands)))
    put_sample(ring, 800)
    second = decoder.feed(bytes(ring.take(500, Hands)))
    assert len(first.samples) == 100 - records.RESERVE - 1
    assert len(second.states) == 1
    assert second.gaps["lost"].sum() == 80 - len(first.samples) == ring.lost


def test_restart_goes_on_by_our_time():
    one, two = new_ring(), new_ring(start_ms=7)
    put_sample(one, 0, 100)
    put_sample(two, 7, 100)
    decoder = Decoder()
    decoder.feed(bytes(one.take(9, Hands)))

    class Rebooted(Hands):
        boot_id = 5

    chunk = decoder.feed(bytes(two.take(9, Rebooted)))
    assert list(chunk.samples["t_ms"]) == [1000]
    assert len(chunk.gaps) == 1


def test_numbers_that_go_back_under_the_same_boot_are_a_restart_too():
    one, two = new_ring(), new_ring(start_ms=7)
    for number in range(5):
        put_sample(one, 10 * number, 10)
    put_sample(two, 7, 100)
    decoder = Decoder()
    before = decoder.feed(bytes(one.take(9, Hands)))
    chunk = decoder.feed(bytes(two.take(9, Hands)))
    assert list(chunk.samples["t_ms"]) == [before.end_ms]
    assert len(chunk.gaps) == 1


@pytest.mark.parametrize("at", [0, 2, 10, 36, 45, -1])
def test_damaged_block_is_refused(at):
    ring = new_ring()
    put_sample(ring, 0)
    block = bytearray(ring.take(9, Hands))
    block[at] ^= 0x40
    with pytest.raises(LinkTrouble):
        Decoder().feed(bytes(block))
    with pytest.raises(LinkTrouble):
        Decoder().feed(b"")


SLOTS = st.lists(
    st.one_of(
        st.tuples(st.just("sample"), st.integers(1, 100), st.integers(0, 4095), st.integers(0, 40)),
        st.tuples(st.just("edge"), st.integers(1, 6), st.integers(0, 1), st.integers(0, 900)),
        st.tuples(st.just("aux"), st.integers(0, 4), st.integers(-99999, 99999), st.just(0)),
        st.tuples(st.just("hole"), st.integers(3, 5000), st.just(0), st.just(0)),
    ),
    max_size=60,
)


@settings(max_examples=80, deadline=None)
@given(SLOTS, st.lists(st.integers(2, 9), max_size=30), st.booleans())
def test_result_does_not_depend_on_the_cut(items, sizes, wrapping):
    def fill():
        start = (1 << 30) - 3000 if wrapping else 77
        ring = new_ring(start_ms=start)
        now = start
        for kind, a, b, c in items:
            if kind == "sample":
                low, high = max(0, b - c), min(4095, b + c)
                put_sample(ring, now & 0x3FFFFFFF, a, (low, b, high), (low, b, high))
                now += 10 * a
            elif kind == "edge":
                ring.event(records.EDGE, a << 1 | b, (now + c) & 0x3FFFFFFF, 0)
            elif kind == "aux":
                ring.event(records.AUX, a, now & 0x3FFFFFFF, b)
            else:
                now += a
        return ring

    whole_decoder = Decoder()
    whole = joined([whole_decoder.feed_many(blocks_of(fill(), [])), whole_decoder.finish()])
    cut_decoder = Decoder()
    chunks = [cut_decoder.feed(block) for block in blocks_of(fill(), sizes)]
    cut = joined([*chunks, cut_decoder.finish()]) if chunks else joined([cut_decoder.finish()])
    same(cut, whole)
    for chunk in chunks:
        for rows in (chunk.edges, chunk.aux, chunk.samples):
            assert np.all((rows["t_ms"] >= chunk.start_ms) & (rows["t_ms"] < chunk.end_ms))


def test_ten_hours_decode_whole():
    blocks, ring = [], new_ring(slots=4000)
    for second in range(36_000):
        put_sample(ring, 1000 * second, 100)
        if second % 10 == 0:
            ring.event(records.EDGE, 2 | second // 10 & 1, 1000 * second + 500, 0)
        blocks.append(bytes(ring.take(500, Hands)))
    chunk = Decoder().feed_many(blocks)
    assert chunk.end_ms == 36_000_000
    assert (len(chunk.samples), len(chunk.edges)) == (36_000, 3600)
