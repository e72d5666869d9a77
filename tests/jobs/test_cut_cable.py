"""A cable that is cut at any byte, on its way there or back, while something is being done.

Whatever happens: no row is stored twice, none is missing that is not counted, and the real sensor is
reached. Time is the virtual board's own; nothing waits.
"""

from __future__ import annotations

import sqlite3
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, Phase, example, given, seed, settings
from hypothesis import strategies as st

from locum.casebook.store import Store
from locum.errors import LocumError
from locum.jobs import glitching, verbs
from locum.jobs.stored_record import chunks_of
from locum.link.board import Board
from locum.link.talk import Talk
from locum.link.transports import link_gone
from pulled_cable import Cable, Rig

NEVER = 1 << 40
VAN = {"sensor": "parcel_van_coolant", "module": "parcel_van_engine", "vehicle": "parcel_van"}
ACTS = {
    "listen": lambda **o: verbs.listen(minutes=1.0, **o),
    "hold": lambda **o: verbs.hold("75C", minutes=0.5, **o),
    "sweep": lambda **o: verbs.sweep("70C", "80C", minutes=1.0, **o),
    "follow": lambda **o: verbs.follow(minutes=0.5, **o),
    "glitch": lambda **o: glitching.glitch(ms=[200], count=2, every=8.0, **o),
}
HOME_S = 3 + 20 + 5
"""A silent computer is waited for, then the board walks home; with some room."""


class Cut(Cable):
    """Bytes are counted both ways; at the plug's number the cable is cut in the middle of them."""

    def _room(self, data):
        room = self.plug.cut_at - self.plug.passed
        self.plug.passed += min(room, len(data))
        if room >= len(data):
            return data, False
        return data[:room], True

    def write(self, data):
        self._there()
        data, cut = self._room(data)
        self.coming += self.plug.body.receive(data)
        if cut:
            self.plug.cut()
            raise link_gone(self.name, "the other end has closed")

    def read(self, timeout_s):
        self._there()
        if not self.coming:
            self.plug.body.advance(max(1, round(timeout_s * 1000)))
            self.coming = self.plug.body.receive(b"")
        data, self.coming = self.coming, b""
        data, cut = self._room(data)
        if cut:
            self.plug.cut()
        if cut and not data:
            raise link_gone(self.name, "the other end has closed")
        return data


class Bench(Rig):
    """A rig whose cable is cut again and again, by a list of (bytes until then, seconds out)."""

    def __init__(self, book, cuts):
        self.cuts = list(cuts)
        super().__init__(book)
        self.live.end()
        self.store.close()
        plug = self.plug
        plug.passed, plug.cut_at, plug.cut = 0, NEVER, self._cut
        plug.open = lambda place: Cut(plug)
        self.link.board.transport = Cut(plug)
        self._next()

    def _next(self):
        self.seconds = 0.0
        self.plug.cut_at = NEVER
        if self.cuts:
            gap, self.seconds = self.cuts.pop(0)
            self.plug.cut_at = self.plug.passed + gap

    def _cut(self):
        seconds = self.seconds
        self._next()
        self.pull_for(seconds)

    def begin(self, plain):
        """Notes the number of the first slot of the record that begins."""
        plain(self.link.board)
        self.began = self.body.player.ring.tail

    def steady_s(self):
        return self.body.elapsed_ms / 1000


def played(book, act, cuts):
    """Do it on a cable that is cut so; the rig, and the trouble it ended with or None."""
    rig = Bench(book, cuts)
    trouble, plain = None, Board.clear_record
    with (
        patch("locum.jobs.connection.connect", lambda *a, **o: rig.link),
        patch.object(Talk, "steady_s", staticmethod(rig.steady_s)),
        patch.object(Board, "clear_record", lambda board: rig.begin(plain)),
    ):
        try:
            ACTS[act](board="COM5", casebook=str(book), **VAN)
        except LocumError as error:
            trouble = error
    return rig, trouble


def accounted(store, drive, began):
    """Every slot of the board since it was told to begin at ``began`` is stored once, or counted."""
    from locum.recording.blocks import read_block

    numbers = []
    for block in store.blocks(drive.id):
        head = read_block(block)
        numbers += range(head.seq, head.seq + len(head.slots))
    assert len(numbers) == len(set(numbers)), "a row is stored twice"
    assert numbers == sorted(numbers)
    missing = numbers[-1] + 1 - began - len(numbers) if numbers else 0
    assert sum(gap.lost for gap in drive.gaps) == missing, "rows are missing that nobody counted"


def consistent(store, drive, began):
    accounted(store, drive, began)
    chunks = list(chunks_of(store, drive.id))
    rows = [tuple(row) for chunk in chunks for row in chunk.samples.tolist()]
    gaps = [tuple(row) for chunk in chunks for row in chunk.gaps.tolist()]
    for before, after in zip(rows, rows[1:], strict=False):
        end = before[0] + before[1]
        assert after[0] >= end, "a sample lies in another's time"
        if after[0] > end:
            assert any(g[0] <= end and g[1] >= after[0] for g in gaps), (end, after[0], gaps)


cuts = st.lists(
    st.tuples(
        st.one_of(st.integers(0, 600), st.integers(0, 30_000)),
        st.sampled_from([0.5, 2.0, 8.0, 40.0]),
    ),
    min_size=1,
    max_size=4,
)


@pytest.mark.parametrize("act", ACTS)
@seed(20260302)
@settings(
    max_examples=6,
    phases=[Phase.explicit, Phase.generate],
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(cuts=cuts)
@example(cuts=[(0, 2.0)])
def test_a_cable_cut_at_any_byte_loses_nothing_unseen_and_leaves_the_real_sensor(
    tmp_path_factory, act, cuts
):
    book = tmp_path_factory.mktemp("cut") / "book.sqlite"
    rig, trouble = played(book, act, cuts)
    left = rig.body.hands.energised
    rig.body.advance(1000 * HOME_S)
    assert not rig.body.hands.energised
    assert rig.body.player.state in (0, 1, 5) or trouble is not None
    if trouble is None:
        assert not left, "a verb that ended well left the stand-in connected"
    with Store.open(book) as store:
        drives = [drive for drive in store.drives() if drive.settings]
        for drive in drives:
            consistent(store, drive, rig.began)
        if drives:
            assert drives[-1].ended_utc
    with sqlite3.connect(book) as plain:
        assert plain.execute("PRAGMA integrity_check").fetchone() == ("ok",)
