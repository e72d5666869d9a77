"""What the board handed over is in the casebook within a second, or waits and is not lost."""

import pytest

from locum.casebook.store import Store
from locum.errors import FileTrouble
from locum.recording import recorder as module
from locum.recording.recorder import Recorder


def stored(recorder) -> list[bytes]:
    return list(recorder.store.blocks(recorder.drive_id))


def test_blocks_wait_less_than_a_second_of_wall_time(recorder, hand):
    recorder.take([b"a"])
    assert stored(recorder) == []
    for _ in range(4):
        hand.s += 0.2
        recorder.take([])
    assert stored(recorder) == [b"a"]


def test_blocks_wait_less_than_a_second_of_board_time(recorder):
    recorder.take([b"a"], until_ms=400)
    assert (stored(recorder), recorder.saved_until_ms) == ([], 0)
    recorder.take([b"b"], until_ms=800)
    assert (stored(recorder), recorder.saved_until_ms) == ([b"a", b"b"], 800)


@pytest.mark.parametrize("step_ms", [20, 100, 250, 900])
def test_never_a_second_behind_while_it_is_called(recorder, hand, step_ms):
    board_ms = 0
    for _ in range(200):
        board_ms += step_ms
        hand.s += step_ms / 1000
        recorder.take([board_ms.to_bytes(4, "big")], until_ms=board_ms)
        assert board_ms - recorder.saved_until_ms < 1000
        newest = stored(recorder)[-1] if stored(recorder) else b"\0\0\0\0"
        assert board_ms - int.from_bytes(newest, "big") < 1000


def test_order_is_kept_over_many_commits(recorder, hand):
    sent = [bytes([n]) for n in range(200)]
    for block in sent:
        hand.s += 0.13
        recorder.take([block])
    recorder.save()
    assert stored(recorder) == sent
    assert recorder.blocks == 200


def test_clock_readings_and_gaps_go_with_the_blocks(recorder, store):
    recorder.heard(1000, 1_700_000_000_000, 2.5)
    recorder.gap(1000, 1500, 40, "overrun")
    recorder.gap(1500, 1600, why="laptop asleep")
    recorder.save()
    assert store.clock_readings(recorder.drive_id) == [(1000, 1_700_000_000_000, 2.5)]
    assert [(g.lost, g.why) for g in store.drive(recorder.drive_id).gaps] == [
        (40, "overrun"),
        (0, "laptop asleep"),
    ]
    assert recorder.lost == 40


def test_end_saves_and_closes_the_stretch(recorder, store):
    store.begin_stretch(recorder.drive_id, 0, "real")
    recorder.take([b"last"], until_ms=123_456)
    recorder.end("tripped")
    drive = store.drive(recorder.drive_id)
    assert (drive.how, drive.stretches[0].end_ms, stored(recorder)) == (
        "tripped",
        123_456,
        [b"last"],
    )


class Full:
    """A store whose disk is full until it is not."""

    def __init__(self, store) -> None:
        self.store, self.full = store, True

    def append(self, *parts, **named):
        if self.full:
            raise FileTrouble("no space left on the disk")
        return self.store.append(*parts, **named)

    def __getattr__(self, name):
        return getattr(self.store, name)


def test_full_disk_makes_blocks_wait_and_nothing_is_lost(store, hand):
    full = Full(store)
    recorder = Recorder(full, store.begin_drive("listen"), hand)  # type: ignore[arg-type]
    for number in range(50):
        hand.s += 0.2
        recorder.take([bytes([number])], until_ms=number * 200)
    assert recorder.trouble is not None
    assert "wait in memory" in recorder.trouble.text
    assert recorder.waiting_bytes == 50
    assert recorder.saved_until_ms == 0
    with pytest.raises(FileTrouble, match="no space"):
        recorder.save()
    full.full = False
    hand.s += 1
    recorder.take([b"\xff"])
    assert recorder.trouble is None
    assert stored(recorder) == [bytes([n]) for n in range(50)] + [b"\xff"]


def test_memory_is_not_filled_without_end(store, hand, monkeypatch):
    monkeypatch.setattr(module, "LARGEST_WAITING", 1000)
    recorder = Recorder(Full(store), store.begin_drive("listen"), hand)  # type: ignore[arg-type]
    hand.s += 1
    recorder.take([bytes(900)])
    hand.s += 1
    with pytest.raises(FileTrouble):
        recorder.take([bytes(900)])
    assert recorder.waiting_bytes == 1800


def test_a_real_full_disk_is_survived(tmp_path, hand):
    with Store.open(tmp_path / "casebook.sqlite") as store:
        recorder = Recorder(store, store.begin_drive("listen"), hand)
        pages = store.db.rows("PRAGMA page_count")[0][0]
        store.db.rows(f"PRAGMA max_page_count = {pages + 4}")
        for number in range(20):
            hand.s += 0.6
            recorder.take([bytes([number]) * 4000], until_ms=number * 600)
        assert recorder.trouble is not None
        kept = len(stored(recorder))
        assert kept < 20
        store.db.rows("PRAGMA max_page_count = 100000")
        recorder.save()
        assert stored(recorder) == [bytes([n]) * 4000 for n in range(20)]


def test_every_ten_seconds_a_commit_waits_for_the_disk(store, hand, monkeypatch):
    seen = []
    append = store.append
    monkeypatch.setattr(
        store, "append", lambda *parts, full: seen.append(full) or append(*parts, full=full)
    )
    recorder = Recorder(store, store.begin_drive("listen"), hand)
    for _ in range(100):
        hand.s += 0.5
        recorder.take([b"x"])
    assert seen.count(True) == 5
    assert seen.count(False) == 95
