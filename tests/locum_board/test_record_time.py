"""How long the board keeps its record while no computer fetches it, and what happens after that.

The board's promise (TRACe:TIME?) is held against what it then keeps: the engine runs alone for the
time it named, and the host's decoder must find every millisecond of it. What no longer fits is held
against a twin with room to spare that lives through the same.
"""

import re

import pytest

from locum.locations import asset_root
from locum.recording.decode import Decoder
from locum_board import records, ticks
from locum_board.engine import Engine

SLOTS = 200
BUSY_SLOTS = 3000
"""Few, so that they fill while a test runs; the promise is computed from them."""
BOARD_SLOTS = (6000, 5000)
"""As meant, and as the Pico has had room for."""


def quiet(bench, _passed_ms):
    """Nothing moves."""


def busy(bench, passed_ms):
    """Every bucket lively, every line switching far more often than is told, slow channels moving."""
    bench.hands.open_v = 5.0 if passed_ms % 3 else 2.5
    bench.hands.levels = 63 * (passed_ms & 1)
    bench.hands.vbus = 50000 + 600 * (passed_ms // 25 % 2)


def some(bench, passed_ms):
    """A line that switches eight times a second."""
    bench.hands.levels = passed_ms // 125 & 1


def live(bench, seconds, world):
    """The board by itself."""
    for passed in range(seconds * 1000):
        world(bench, passed)
        bench.run(1, keep_alive=False)


def alone(new_bench, slots=SLOTS):
    """A board whose record begins, and whose host goes away after the first answer."""
    bench = new_bench(slots=slots)
    bench.good("SENS:RES:RANG 1,1")
    bench.good("TRAC:CLE")
    return bench


def promise(bench):
    return [int(part) for part in bench.ask("TRAC:TIME?").split(",")]


def fetched(bench):
    """Decoder and all chunks of what the board kept."""
    decoder, ring = Decoder(), bench.engine.ring
    chunks = []
    while ring.waiting():
        chunks.append(decoder.feed(bytes(ring.take(500, bench.hands))))
    return decoder, chunks


def covered_ms(chunks):
    return sum(int(chunk.samples["span_ms"].sum()) for chunk in chunks)


WORLDS = pytest.mark.parametrize(
    ("world", "slots", "which"), [(quiet, SLOTS, 1), (busy, BUSY_SLOTS, 2)]
)


@WORLDS
def test_for_the_time_it_names_nothing_is_missing(new_bench, world, slots, which):
    bench = alone(new_bench, slots)
    seconds = promise(bench)[which]
    assert seconds > 0
    live(bench, seconds, world)
    decoder, chunks = fetched(bench)
    assert decoder.lost == 0
    assert [row for chunk in chunks for row in chunk.gaps] == []
    # the last second may not have been put into the record yet
    assert seconds * 1000 - covered_ms(chunks) <= records.MAX_SPAN * bench.hands.bucket_ms


@WORLDS
def test_the_time_it_names_is_not_far_too_short(new_bench, world, slots, which):
    """Half as long again is more than it can keep: the promise is no empty one."""
    bench = alone(new_bench, slots)
    live(bench, promise(bench)[which] * 3 // 2 + 1, world)
    assert bench.engine.ring.lost > 0


def test_the_present_rate_is_counted_by_the_minute(new_bench):
    bench = alone(new_bench, slots=900)
    at_first, longest, shortest = promise(bench)
    live(bench, 61, some)
    left = promise(bench)[0]
    assert shortest < left < at_first <= longest
    ring = bench.engine.ring
    live(bench, left - 2, some)
    assert ring.lost == 0
    live(bench, left // 10 + 4, some)
    assert ring.lost > 0
    assert promise(bench)[0] == 0


def test_what_does_not_fit_is_counted_and_the_gap_is_told(new_bench):
    """A twin with room to spare says what a full board should have kept."""
    boards = [alone(new_bench), alone(new_bench, slots=6000)]
    for board in boards:
        live(board, 60, some)
    full, twin = boards
    before = full.engine.ring
    assert int(full.ask("TRAC:LOST?")) == before.lost > 0
    assert full.ask("FETC?").split(",")[8] == str(before.lost)
    rows = [sum(1 for word in words_of(board) if word < 0xC000) for board in boards]
    assert before.lost == rows[1] - rows[0]
    # room again: the record goes on, and says from when to when it has nothing
    decoder, first = fetched(full)
    live(full, 3, quiet)
    _, rest = fetched_on(full, decoder)
    gaps = [row for chunk in first + rest for row in chunk.gaps]
    missing = sum(int(row["until_ms"] - row["t_ms"]) for row in gaps)
    assert decoder.lost == before.lost
    assert sum(int(row["lost"]) for row in gaps) == before.lost
    assert abs(63_000 - covered_ms(first + rest) - missing) <= 1000


def fetched_on(bench, decoder):
    ring = bench.engine.ring
    chunks = []
    while ring.waiting():
        chunks.append(decoder.feed(bytes(ring.take(500, bench.hands))))
    return decoder, [*chunks, decoder.finish()]


def words_of(bench):
    """First words of all slots that wait, read where they lie."""
    ring = bench.engine.ring
    for number in range(ring.tail, ring.head):
        at = number % ring.slots * records.SLOT_BYTES
        yield ring.data[at] | ring.data[at + 1] << 8


class Buckets:
    """An engine whose body makes whole seconds of buckets, so that an hour takes no time."""

    def __init__(self, hands, slots):
        hands.sampled = False
        self.hands, self.now_ms = hands, 1000
        self.engine = Engine(hands, self.now_ms, slots)

    def live(self, seconds):
        player = self.engine.player
        for passed in range(seconds):
            if passed % 10 == 0:
                for channel in range(5):
                    player.aux(channel, self.hands.aux(channel), self.now_ms)
            player.bucket_start = self.now_ms
            self.now_ms = ticks.plus(self.now_ms, 1000)
            player.advance(self.now_ms)
            player.bucket(100, 1000, 100_000_0, 1001, 700, 700_000, 701, 1000)
            player.bucket_start = self.now_ms
            self.engine.poll(self.now_ms)


@pytest.mark.parametrize("slots", BOARD_SLOTS)
def test_a_quiet_record_of_full_size_is_whole_for_as_long_as_the_manual_says(tools, slots):
    board = Buckets(tools.hands(), slots)
    board.engine.receive(b"TRAC:CLE\n", board.now_ms)
    told = board.engine.receive(b"TRAC:TIME?\n", board.now_ms).decode().split(",")
    seconds = int(told[1])
    board.live(seconds)
    decoder, chunks = fetched(board)
    assert decoder.lost == 0
    assert covered_ms(chunks) == seconds * 1000
    manual = (asset_root("firmware_micropython") / "README.md").read_text(encoding="utf-8")
    row = re.search(rf"\| {slots} \| (\d+) min \| (\d+) s \|", manual)
    assert row is not None
    assert (int(row[1]), int(row[2])) == (seconds // 60, int(told[2]))
