"""A glitch of the real sensor kept as a profile of the workshop's own, and what the moments of a case say."""

from __future__ import annotations

import pytest

from locum.casebook.store import Store
from locum.errors import Refused
from locum.jobs.capture_kept import keep_glitch, longest_glitch, newest_kept, suggested
from locum.jobs.capturing import kept_glitches
from locum.jobs.evidence_view import look_at_case
from locum.jobs.shapes import open_shape
from locum.locations import workshop_sheets
from recorded_book import copy_of_recorded


@pytest.fixture
def listened(book, tmp_path_factory):
    """(case, recording) of half an hour on the road with the van whose circuit is bad."""
    return copy_of_recorded(book, str(tmp_path_factory.getbasetemp()))


def test_a_kept_glitch_is_found_by_its_name_and_is_as_long_as_it_was(listened, book):
    case, drive = listened
    moments = [m for m in look_at_case(case, book).moments if m.number]
    with Store.open(book) as store:
        glitches = kept_glitches(store, drive)
        assert sorted(m.number for m in moments) == list(range(1, len(glitches) + 1))
        longest = longest_glitch(store, case)
    for moment in moments:  # number, words and time are of the same glitch
        glitch = glitches[moment.number - 1]
        assert moment.glitch == f"{glitch.length_ms:.0f} ms towards {glitch.towards}"
        assert moment.t_s - (moment.after_s or 0.0) == pytest.approx(glitch.t_ms / 1000)
        assert (moment.after_s is not None) == moment.kick_out
    drive_id, number, name = suggested(case, casebook=book)
    assert (drive_id, number) == longest
    made = keep_glitch(drive_id, number, name, book)
    assert made.out == name
    assert open_shape(name).length_ms == pytest.approx(glitches[number - 1].length_ms, abs=25)
    assert suggested(case, casebook=book)[2] == f"{name}-2", "one kept before is never written over"


def test_a_name_that_is_taken_or_cannot_be_typed_is_told_and_nothing_is_written(listened, book):
    case, drive = listened
    keep_glitch(drive, 1, "Rain 1", book)
    before = sorted(workshop_sheets().rglob("*"))
    for name in ("rain-1", "300", "../out", "x" * 60, "", "parcel_van.csv"):
        with pytest.raises(Refused):
            keep_glitch(drive, 1, name, book)
    assert sorted(workshop_sheets().rglob("*")) == before


def test_the_glitch_kept_last_stands_in_the_book_of_its_case_while_its_profile_is_there(
    listened, book
):
    case, drive = listened
    keep_glitch(drive, 1, "rain-1", book)
    keep_glitch(drive, 1, "rain-2", book)
    with Store.open(book) as store:
        assert newest_kept(store, case) == "rain-2"
        next(workshop_sheets().rglob("rain-2.csv")).unlink()
        assert newest_kept(store, case) == "rain-1"
        assert newest_kept(store, None) == ""


def test_a_case_without_a_glitch_says_so(locum, book):
    case = locum("case", "new", "Nothing yet", "--casebook", book).json["id"]
    with pytest.raises(Refused, match="closed"):
        suggested(case, casebook=book)
