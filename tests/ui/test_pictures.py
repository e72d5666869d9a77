"""The pictures in the README are the screens as they are now, and refer to nothing outside themselves."""

from __future__ import annotations

import re
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parent.parent / "pictures"
sys.path.insert(0, str(FOLDER))
import make  # noqa: E402

PLACES = {
    "first-start": "First start", "drive": "Drive", "stand-in": "Drive", "prepare": "Prepare",
    "evidence": "Evidence", "cases": "Cases",
}  # fmt: skip


@pytest.mark.timeout(400)
async def test_the_committed_pictures_say_what_the_screens_say_now(capsys):
    pictures = await make.all_pictures()
    assert {p.name: p.text.split("  ")[0].strip() for p in pictures} == PLACES
    told = {p.name: p.text for p in pictures}
    assert "KICK-OUT" in told["drive"]
    assert "glitch" in told["drive"]
    assert "STAND-IN" in told["stand-in"]
    assert "missing" in told["evidence"]
    stale = make.stale(pictures)
    assert not stale, f"stale: {stale}; run python tests/pictures/make.py"


@pytest.mark.parametrize("name", PLACES)
def test_a_picture_is_whole_by_itself(name):
    svg = make.committed(name)
    root = ElementTree.fromstring(svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert root.get("aria-label")
    outside = svg.replace('xmlns="http://www.w3.org/2000/svg"', "")
    assert not re.search(r"https?:|//|href|@import|url\(|<script|<image", outside)


def test_what_is_made_anew_each_time_makes_no_picture_stale():
    assert make.dated("* 2026-11-25  Van") == make.dated("* 2027-01-02  Van")
    assert make.dated("case 01KJPQ8D605PNK6Y4X81DVV149") == "case ID"
    assert make.dated("told 82.0 C") == "told 82.0 C"
