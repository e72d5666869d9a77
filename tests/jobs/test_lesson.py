"""Vehicle lines learned by saying the states as they come: names, sayings, what they come to."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from locum import cli
from locum.casebook.store import Store
from locum.errors import LocumError, Refused
from locum.jobs.desk_facts import Setup
from locum.jobs.lesson import ENOUGH, MARK, Lesson
from locum.jobs.lesson_learned import keep, resumed, taught
from locum.jobs.lesson_words import line_of, line_words, standing_words, state_of
from locum.sheets.vehicle import read_vehicle

NOW = datetime(2026, 5, 1, 9, 30, 7, tzinfo=UTC)
VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")
NAMES = ("1 converter clutch", "2 fan relay low other", "3 brake", "4 ignition feed")


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def named(*lines: str, **options) -> Lesson:
    lesson = Lesson(**options)
    for line in lines:
        lesson.answer(line)
    return lesson


TWO = (*NAMES, "", "locked", "released", "")


# -- naming --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "number", "name", "level", "kind", "role"),
    [("1 converter clutch", 1, "converter clutch", 1, "switched", "output"),
     ("2=fan relay low other", 2, "fan relay", 0, "switched", "other"),
     ("line 3: Brake lamp", 3, "Brake lamp", 1, "switched", "brake"),
     ("4 ignition feed", 4, "ignition feed", 1, "switched", "ignition"),
     ("5 pressure solenoid pwm", 5, "pressure solenoid", 1, "pwm", "output"),
     ("6 injector peak-hold low", 6, "injector", 0, "peak_hold", "output")],
)  # fmt: skip
def test_a_line_is_its_number_its_name_and_what_is_odd_about_it(
    typed, number, name, level, kind, role
):
    spec = line_of(typed)
    assert (spec.line, spec.name, spec.on_level, spec.kind, spec.role) == (
        number,
        name,
        level,
        kind,
        role,
    )
    assert line_of(line_words(spec)) == spec, "written down it means the same"


@pytest.mark.parametrize("typed", ["", "clutch", "7 clutch", "0 clutch", "1"])
def test_what_is_no_line_is_refused_with_an_example(typed):
    with pytest.raises(Refused, match="converter clutch"):
        line_of(typed)


def test_a_pattern_typed_by_hand_names_lines_and_levels_and_all_faults_at_once():
    specs = [line_of("1 converter clutch"), line_of("2 shift solenoid")]
    assert state_of("third = converter clutch off and 2 on", specs) == (
        "third",
        ((1, False), (2, True)),
    )
    assert state_of("third gear", specs) == ("third gear", None)
    with pytest.raises(Refused) as refused:
        state_of("third = clutch on, shift solenoid up", specs)
    assert len(refused.value.remarks) == 2


@pytest.mark.parametrize(
    ("before", "wrong"),
    [((), ""), (("3 brake",), ""), (("1 clutch",), "2 clutch"), (("1 clutch", ""), ""),
     (("1 clutch", "", "locked"), ""), (("1 clutch", "", "locked"), "Locked"),
     (("1 clutch", "", "locked"), "open = valve on")],
)  # fmt: skip
def test_a_wrong_name_is_refused_and_nothing_is_lost(before, wrong):
    lesson = named(*before)
    question = lesson.question
    with pytest.raises(LocumError):
        lesson.answer(wrong)
    assert lesson.question == question
    assert not lesson.done


def test_the_lines_of_the_sheet_in_use_are_known_already():
    van = read_vehicle(
        'schema = 1\n[[line]]\ninput = 1\nname = "clutch"\nrole = "commanded"\n', "van"
    )
    lesson = named("", "locked", "open", "", vehicle=van)
    assert lesson.done
    assert lesson.held == "locked", "the first is the one whose loss counts"


# -- driving -------------------------------------------------------------------------------------


def test_one_state_after_another_is_asked_for_until_each_was_said_twice():
    lesson = named(*TWO)
    order = []
    while not lesson.complete:
        wanted = lesson.asked_for(order[-1] if order else "")
        order.append(wanted)
        lesson.say(wanted, "drive", float(len(order)))
    assert order == ["locked", "released"] * ENOUGH
    assert lesson.unsay() == "released"
    assert not lesson.complete
    assert lesson.asked_for("locked") == "released"


def test_a_state_typed_by_hand_is_not_asked_for():
    lesson = named(*NAMES, "", "locked", "released = converter clutch off", "")
    assert lesson.to_drive == ["locked"]


def test_nothing_is_said_while_nothing_is_recorded():
    with pytest.raises(Refused, match="recording"):
        named(*TWO).say("locked", "", 0.0)


def test_a_key_hit_twice_names_no_state():
    lesson = named(*TWO)
    lesson.say("locked", "drive", 10.0)
    with pytest.raises(Refused, match="a second"):
        lesson.say("released", "drive", 10.3)
    assert [said.state for said in lesson.said] == ["locked"]
    lesson.say("locked", "drive", 10.4)
    lesson.say("released", "other drive", 0.1)
    assert len(lesson.said) == 3


def test_what_the_lines_show_now_is_told_with_their_own_polarity():
    specs = [line_of("1 clutch"), line_of("2 gear low"), line_of("3 brake")]
    assert standing_words(0b001, specs) == "clutch on, gear on"
    assert standing_words(0b110, specs) == "clutch off, gear off"


# -- learned from recordings of the virtual van --------------------------------------------------


@pytest.fixture
def driven(tmp_path, capsys):
    """(casebook, [(drive, state of the van, from s, to s)]): spans by the van's own sheet, two recordings."""
    book = str(tmp_path / "book.sqlite")
    spans = []
    for seed in ("1", "2"):
        assert cli.main(["listen", *VAN, "--minutes", "12", "--board", "virtual", "--seed", seed,
                         "--casebook", book, "--json"]) == 0  # fmt: skip
    capsys.readouterr()
    with Store.open(book) as store:
        for drive in store.drives():
            states = store.reviews(drive.id)[-1].result["states"]
            spans += [(drive.id, name, a / 1000, b / 1000)
                      for (a, name), (b, _) in zip(states, states[1:], strict=False) if b - a > 6000]  # fmt: skip
    return book, spans


def said_as_driven(lesson: Lesson, spans, count: int = ENOUGH) -> None:
    """Whoever sits beside says each state three seconds after it came."""
    for drive, name, begin_s, _ in spans:
        state = "locked" if name.endswith("locked") else "released"
        if lesson.count(state) < count:
            lesson.say(state, drive, begin_s + 3)


def test_the_pattern_that_was_driven_is_learned_and_used(driven):
    """The van's own sheet: locked is the converter clutch on, released is it off."""
    book, spans = driven
    lesson = named(*TWO)
    said_as_driven(lesson, spans)
    found = taught(lesson, book)
    assert {s.name: s.pattern for s in found.states} == {
        "locked": "converter clutch on", "released": "converter clutch off",
    }  # fmt: skip
    assert found.unclear == ()
    setup = keep(Setup(), found, now=NOW)
    assert setup.vehicle is not None
    sheet = read_vehicle(found.sheet, "learned")
    assert [(s.name, s.lines, s.top) for s in sheet.states] == [
        ("locked", {"converter clutch": "on"}, True),
        ("released", {"converter clutch": "off"}, False),
    ]
    assert {line.name: (line.role, line.active) for line in sheet.lines} == {
        "converter clutch": ("commanded", "high"), "fan relay": ("other", "low"),
        "brake": ("brake", "high"), "ignition feed": ("ignition", "high"),
    }  # fmt: skip


def test_sayings_of_two_recordings_count_together(driven):
    book, spans = driven
    lesson = named(*TWO)
    first, last = spans[0], next(span for span in reversed(spans) if span[1] != spans[0][1])
    assert first[0] != last[0]
    for drive, name, begin_s, _ in (first, last):
        lesson.say("locked" if name.endswith("locked") else "released", drive, begin_s + 3)
    assert all(state.pattern for state in taught(lesson, book).states)


def test_what_is_still_unclear_is_told_in_words(driven):
    book, spans = driven
    lesson = named(*NAMES, "", "locked", "released", "third", "")
    one = next(span for span in spans if span[1].endswith("released"))
    lesson.say("locked", one[0], one[2] + 2)
    lesson.say("released", one[0], one[2] + 4)
    unclear = "\n".join(taught(lesson, book).unclear)
    assert "locked and released: the lines are the same in both" in unclear
    assert "third: not driven yet" in unclear
    assert "nobody named it" in unclear


def test_nothing_is_kept_while_the_first_state_is_not_known(driven):
    book, spans = driven
    lesson = named(*TWO)
    one = spans[0]
    lesson.say("released", one[0], one[2] + 3)
    found = taught(lesson, book)
    assert not found.usable
    assert any("first state" in sentence for sentence in found.unclear)
    with pytest.raises(Refused, match="first state"):
        keep(Setup(), found, now=NOW)


def test_a_lesson_goes_on_another_day_from_what_the_recordings_hold(driven):
    book, spans = driven
    drive = spans[0][0]
    with Store.open(book) as store:
        case_id = store.new_case({"title": "Van"})
        store.file_drive(drive, case_id)

        def note(words: str) -> None:
            store.add_mark(drive, at_ms, MARK, 0, words)

        at_ms = 0
        lesson = named(*NAMES, "", "locked", "released = converter clutch off", "", note=note)
        for at_ms in (5000, 9000, 12_000):
            lesson.say("locked", drive, at_ms / 1000)
        lesson.unsay()
    again = resumed(case_id, None, lambda _words: None, book)
    assert again.done
    assert again.specs == lesson.specs
    assert again.states == lesson.states
    assert again.said == lesson.said
    with Store.open(book) as store:
        store.add_mark(drive, 20_000, MARK, 0, "anew")
    assert not resumed(case_id, None, lambda _words: None, book).done


def test_with_a_case_the_sheet_goes_into_it(driven):
    book, spans = driven
    with Store.open(book) as store:
        case_id = store.new_case({"title": "Van"})
    lesson = named(*TWO)
    said_as_driven(lesson, spans)
    found = taught(lesson, book)
    keep(Setup(), found, case_id, book, NOW)
    with Store.open(book) as store:
        sheet = store.sheet(case_id, "vehicle")
    assert sheet is not None
    assert sheet.text == found.sheet
    assert "2026-05-01" in sheet.name
