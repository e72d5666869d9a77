"""What a recording tells besides releases and glitches is said to a person as well."""

from __future__ import annotations

from locum.cli_drive_text import also_seen

NOTHING = {"noise": [], "states": [[0, "top"]], "hunting": [], "chatter": [], "pulses": [],
           "offset_events": []}  # fmt: skip


def test_interference_hunting_chatter_pulses_and_strange_patterns_are_told():
    seen = {**NOTHING, "noise": [[1000, 2500], [9000, 500]], "pulses": [[0, 1, 6]] * 3,
            "states": [[0, "top"], [5, "? 01"], [9, "fan: ? 1"]], "chatter": [[0, 1]]}  # fmt: skip
    (said,) = also_seen(seen)
    for words in ("interference on the line (3.0 s): 2", "own tests): 3", "chatter of an output: 1",
                  "? 01", "fan: ? 1"):  # fmt: skip
        assert words in said
    assert "hunting" not in said


def test_a_plain_recording_says_nothing_more():
    assert also_seen(NOTHING) == []
