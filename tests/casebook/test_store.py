"""What goes into the casebook comes out, and nothing that was there is overwritten."""

from datetime import UTC, datetime

import pytest

from locum.casebook import ids
from locum.casebook.store import Store
from locum.errors import Misuse, Refused


def test_case_keeps_its_fields_and_every_change(store):
    case_id = store.new_case({"title": "Fan runs", "vehicle": {"family": "Halden P4"}})
    store.change_case(case_id, {"vehicle": {"year": 2011}, "component": "coolant"}, author="Ilves")
    store.change_case(case_id, {"component": None, "title": "Fan roars"}, author="Roo")
    case = store.case(case_id)
    assert case.fields == {"title": "Fan roars", "vehicle": {"family": "Halden P4", "year": 2011}}
    assert case.title == "Fan roars"
    assert [change.author for change in case.changes] == ["Ilves", "Roo"]
    assert case.changes[0].fields["component"] == "coolant"


def test_newest_cases_come_first_and_in_pages(store):
    made = [store.new_case({"title": str(number)}) for number in range(7)]
    assert [case.id for case in store.cases()] == made[::-1]
    assert [case.title for case in store.cases(limit=2, offset=3)] == ["3", "2"]
    assert store.case_count() == 7


def test_case_without_title_is_named_by_vehicle_and_complaint(store):
    case_id = store.new_case({"vehicle": {"model": "P4"}, "complaint": {"words": "it revs up"}})
    assert store.case(case_id).title == "P4: it revs up"
    assert store.case(store.new_case({})).title == "case without a title"


def test_ids_can_be_typed_by_either_end(store):
    first, second = store.new_case({}), store.new_case({})
    assert store.case_id_from(first[-6:].lower()) == first
    assert store.case_id_from(second) == second
    with pytest.raises(Refused, match="several"):
        store.case_id_from(first[:4])
    with pytest.raises(Refused, match="none in this casebook"):
        store.case_id_from("ZZZZ")


@pytest.mark.parametrize("ask", ["case", "drive", "findings", "begin"])
def test_unknown_ids_are_refused_in_words(store, ask):
    with pytest.raises(Refused, match="none in this casebook"):
        {
            "case": lambda: store.case("no"),
            "drive": lambda: store.drive("no"),
            "findings": lambda: store.add_finding("no", "note", {}),
            "begin": lambda: store.begin_drive("listen", "no"),
        }[ask]()
    assert store.drives() == []


def test_blocks_come_back_verbatim_and_in_order(store):
    drive_id = store.begin_drive("listen")
    sent = [bytes([n % 256]) * (n % 50) for n in range(700)]
    for start in range(0, 700, 90):
        store.append(drive_id, sent[start : start + 90], [(start, 1_700_000_000_000 + start, 1.25)])
    assert list(store.blocks(drive_id)) == sent
    assert store.clock_readings(drive_id)[1] == (90, 1_700_000_000_090, 1.25)
    assert store.drive(drive_id).blocks == 700


def test_drive_keeps_what_was_noted_under_way(store):
    case_id = store.new_case({"title": "x"})
    text = "schema = 1\r\n# Ölkühler\n"
    drive_id = store.begin_drive(
        "follow",
        case_id,
        {"serial": "7"},
        {"sensor": ("halden.toml", text)},
        {"limit": 1.5},
        datetime(2026, 3, 2, 8, tzinfo=UTC),
    )
    assert store.begin_stretch(drive_id, 0, "real") == 0
    assert store.begin_stretch(drive_id, 60_000, "follow", "still", {"unseen": True}) == 1
    store.answer(drive_id, 1, True)
    store.answer(drive_id, 1, False)
    store.add_mark(drive_id, 70_000, "key", 10_000, "on the ramp")
    store.add_gap(drive_id, 80_000, 81_000, 12, "overrun")
    store.end_drive(drive_id, "done", 90_000)
    drive = store.drive(drive_id)
    assert drive.started_utc == "2026-03-02T08:00:00.000Z"
    assert (drive.how, drive.board, drive.settings) == ("done", {"serial": "7"}, {"limit": 1.5})
    assert [(s.start_ms, s.end_ms, s.connected, s.felt) for s in drive.stretches] == [
        (0, 60_000, "real", None),
        (60_000, 90_000, "follow", False),
    ]
    assert drive.stretches[1].plan == {"unseen": True}
    assert (drive.marks[0].note, drive.marks[0].ago_ms) == ("on the ramp", 10_000)
    assert drive.gaps[0].lost == 12
    assert drive.sheets[0].text == text
    assert store.drives(case_id) == [drive]


def test_ended_drive_takes_nothing_more_and_ends_once(store):
    drive_id = store.begin_drive("listen")
    store.end_drive(drive_id, "tripped")
    ended = store.drive(drive_id).ended_utc
    store.end_drive(drive_id, "done")
    assert (store.drive(drive_id).how, store.drive(drive_id).ended_utc) == ("tripped", ended)
    with pytest.raises(Refused, match="it ended"):
        store.append(drive_id, [b"x"])
    assert list(store.blocks(drive_id)) == []


def test_answer_without_its_stretch_is_misuse(store):
    with pytest.raises(Misuse, match="stretch 3"):
        store.answer(store.begin_drive("swap"), 3, True)


def test_unfiled_drive_is_filed_once(store):
    drive_id = store.begin_drive("hold")
    assert [drive.id for drive in store.unfiled_drives()] == [drive_id]
    case_id, other = store.new_case({}), store.new_case({})
    store.file_drive(drive_id, case_id, author="Roo")
    store.file_drive(drive_id, case_id)
    assert store.unfiled_drives() == []
    assert [found.kind for found in store.findings(case_id)] == ["filed"]
    with pytest.raises(Refused, match="filed under case"):
        store.file_drive(drive_id, other)
    assert store.drive(drive_id).case_id == case_id


def test_reviews_pile_up_with_the_version_that_made_them(store):
    drive_id = store.begin_drive("listen")
    store.add_review(drive_id, "review 1", {"kick_outs": 3})
    store.add_review(drive_id, "review 2", {"kick_outs": 2})
    assert [(r.version, r.result["kick_outs"]) for r in store.reviews(drive_id)] == [
        ("review 1", 3),
        ("review 2", 2),
    ]


def test_findings_are_appended_and_closing_can_be_taken_back(store):
    case_id = store.new_case({})
    store.add_finding(case_id, "found", {"cause": "sensor opens hot"}, "Ilves")
    store.add_finding(case_id, "found", {"cause": "connector"}, "Roo")
    assert [f.author for f in store.findings(case_id, "found")] == ["Ilves", "Roo"]
    store.close_case(case_id)
    assert store.case(case_id).closed_utc is not None
    store.reopen_case(case_id, why="came back in the rain")
    assert store.case(case_id).closed_utc is None


def test_hand_back_list_shows_what_is_left(store):
    case_id = store.new_case({})
    store.tick_hand_back(case_id, "device_removed", author="Ilves")
    store.tick_hand_back(case_id, "follow_up_set", note="9 November")
    store.tick_hand_back(case_id, "codes_cleared")
    store.tick_hand_back(case_id, "codes_cleared", done=False)
    items = {item.item: item for item in store.hand_back(case_id)}
    assert items["device_removed"].done is True
    assert items["follow_up_set"].note == "9 November"
    assert items["codes_cleared"].done is False
    assert items["relearn_done"].done is None
    with pytest.raises(Refused, match="device_removed"):
        store.tick_hand_back(case_id, "washed")


def test_follow_up_calls_add_only_time_that_counts(store):
    case_id = store.new_case({})
    store.add_follow_up(case_id, 6.5, 0)
    store.add_follow_up(case_id, 4.0, 1, note="once, on the motorway")
    store.add_follow_up(case_id, 3.0, 0, counts=False, note="somebody else drove")
    total = store.followed_up(case_id)
    assert (total.hours, total.kick_outs, total.calls, total.left_out_h) == (10.5, 1, 3, 3.0)
    with pytest.raises(Refused, match="zero or more"):
        store.add_follow_up(case_id, -1.0, 0)


def test_sheets_and_attachments_are_kept_once_byte_for_byte(store):
    case_id = store.new_case({})
    text = "a = 1\r\n# ü\n"
    first = store.attach_sheet(case_id, "sensor", "s.toml", text)
    assert store.attach_sheet(case_id, "sensor", "s.toml", text) == first
    store.attach_sheet(case_id, "sensor", "s.toml", "a = 2\n")
    assert [sheet.text for sheet in store.sheets(case_id)] == [text, "a = 2\n"]
    in_use = store.sheet(case_id, "sensor")
    assert in_use is not None
    assert in_use.text == "a = 2\n"
    assert store.sheet(case_id, "module") is None
    made = store.attach(case_id, "photo.jpg", text.encode(), note="before")
    assert store.content(made.sha256) == text.encode()
    assert made.sha256 == first
    assert store.attachments(case_id) == [made]
    assert made.media_type == "image/jpeg"


def test_calibrations_stay_with_their_board(store):
    store.add_calibration("7", {"n": 1}, "meter A")
    store.add_calibration("8", {"n": 2})
    store.add_calibration("7", {"n": 3})
    assert [c.body["n"] for c in store.calibrations("7")] == [1, 3]
    newest = store.calibration("7")
    assert newest is not None
    assert newest.body == {"n": 3}
    assert store.calibration("9") is None


def test_numbers_that_json_lacks_become_none(store):
    import numpy as np

    case_id = store.new_case({"a": float("inf"), "b": np.float32(0.5), "c": np.arange(3)})
    assert store.case(case_id).fields == {"a": None, "b": 0.5, "c": [0, 1, 2]}


def test_ids_rise_while_the_clock_goes_back():
    times = iter([5000, 4000, 4000, 9000])
    maker = ids.IdMaker(lambda: next(times))
    made = [maker.new() for _ in range(4)]
    assert made == sorted(made)
    assert len(set(made)) == 4
    assert [ids.made_ms(ident) for ident in made] == [5000, 5000, 5000, 9000]


def test_clock_set_back_is_told_and_order_kept(path, clock):
    with Store.open(path, now=clock) as store:
        first = store.new_case({"title": "first"})
    clock.set(year=2025)
    with Store.open(path, now=clock) as store:
        assert [remark.code for remark in store.remarks] == ["clock_set_back"]
        assert "set the computer's clock" in store.remarks[0].text.lower()
        second = store.new_case({"title": "second"})
        assert first < second
        assert [case.title for case in store.cases()] == ["second", "first"]


def test_several_threads_may_write(store):
    from concurrent.futures import ThreadPoolExecutor

    drive_id = store.begin_drive("listen")
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: store.append(drive_id, [bytes([n])] * 5), range(40)))
    assert len(list(store.blocks(drive_id))) == 200
