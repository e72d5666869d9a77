"""What the line-by-line mode says where the screens name a key."""

from __future__ import annotations

INSTEAD = (
    ("? shows them whole; a: I have read them", "cautions shows them whole; read: I have read them"),
    ("press a once they are read", "type read once they are read"),
    ("r: readings one", "readings: one"), ("d: learn it", "lesson: learn it"),
    ("p chooses a profile", "plan NAME chooses one, sheets profile lists them"),
    ("p chooses another profile", "plan NAME chooses another, sheets profile lists them"),
    ("K: the board", "calibrate: the board"), ("s: the board", "test: the board"),
    ("then s tests again", "then: test"), ("press 4", "case TITLE begins one"),
    ("say what it was: j foot, k brake, l road; no key if it was nothing", "foot, brake or road, if it was one"),
    ("b eases back, Space at once", "ease does it, an empty line at once"), ("Space stops it", "an empty line stops it"),
    ("1 Prepare, row board, says", "rows says"), (". A hand meter's as well: h", ""),
    ("y something, n nothing", "yes or no"), ("b eases back, Space", "ease eases back, an empty line"),
    ("Space", "an empty line"), ("m marks", "mark marks"),
    ("m: it was felt; Enter, a value:", "mark: it was felt; a value:"), ("Enter and a value", "a value"),
    ("n starts the next drive", "next starts the next drive"), ("v in Drive", "new"),
    ("1 Prepare: name the vehicle", "vehicle NAME"), ("1 Prepare", "rows"), ("q leaves", "quit leaves"),
    ("j foot   k brake   l road   none of these: no key", "foot, brake or road"),
    ("y something   n nothing", "yes or no"),
)  # fmt: skip
"""What a screen says of its keys -> what is typed here instead."""


def in_lines(text: str) -> str:
    """A sentence of the screens with the words of this mode for its keys."""
    for key, word in INSTEAD:
        text = text.replace(key, word)
    return text
