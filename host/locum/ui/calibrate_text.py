"""A calibration told as rows of text: what must be true, how far it is, what is known after it."""

from __future__ import annotations

from locum.jobs.calibration_told import Ahead, CalibrationLook, Known
from locum.ui import words

NAME = 12
"""Cells of the names at the left."""


def ahead_rows(ahead: Ahead) -> list[str]:
    """What must be true before, each with its word, and what will be done."""
    connected = (
        ("ready", "connected, and stays so all the time. Nothing is unplugged; key on or off")
        if ahead.at_rest
        else ("missing", "must be connected: b eases back, Space at once")
    )
    board = ("ready", f"{ahead.board}; five minutes of warming up do it good")
    if not ahead.board:
        board = ("missing", "none answers: 1 Prepare, row board, says what is missing")
    own = ", ".join(words.ohms(ohm) for ohm in ahead.references_ohm)
    references = ("ready", f"the board's own: {own}. A hand meter's as well: h")
    if not ahead.references_ohm:
        references = ("refused", "this board has no ohmmeter to measure itself with")
    rows = [("real sensor", *connected), ("board", *board), ("references", *references)]
    told = [f"{name:<{NAME}} {words.PREPARED[word]:<8} {said}" for name, word, said in rows]
    return [*told, f"{'time':<{NAME}} {'':<8} {_time(ahead)}"] if ahead.readings else told


def _time(ahead: Ahead) -> str:
    if ahead.kept >= ahead.readings:
        return "all readings are kept from one that was stopped: only the arithmetic is left"
    left = f"about {left_text(ahead.left_s)} for {ahead.readings - ahead.kept} readings"
    if not ahead.kept:
        return f"{left}; it can be stopped and gone on with"
    return f"{left}; {ahead.kept} were kept when one was stopped"


def look_text(look: CalibrationLook, unit: str) -> str:
    """How far it is, or what became of it and what happens next."""
    at = f"{look.done} of {look.total} readings"
    if look.phase == "reading":
        return f"Calibrating: {at}, {left_text(look.left_s)} left. Space stops it; what was read is kept."
    if look.phase == "fitting":
        return f"All {look.total} readings are there; the arithmetic takes some seconds."
    if look.phase == "done" and look.known is not None:
        return known_text(look.known, unit)
    return {
        "stopped": f"Calibration stopped at {at}. They are kept for a day: the next one goes on there.",
        "lost": f"The board was lost at {at}. They are kept for a day. The board is looked for once a "
        "second; when it answers, begin again: it goes on there.",
        "refused": "The calibration was not taken, the one before it holds.",
    }.get(look.phase, "")  # fmt: skip


def left_text(seconds: float) -> str:
    """A time still needed, in minutes where it is long."""
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"


def known_text(known: Known, unit: str) -> str:
    """The uncertainty that results, and until which board temperature it holds."""
    meter = f" The hand meter {known.meter} agrees or was taken over." if known.meter else ""
    low, high = (words.degrees(c, unit, 0) for c in (known.from_c, known.to_c))
    return (
        f"CALIBRATED, and kept. What the module is told is known to {words.apart(known.worst_k, unit)} at "
        f"worst (at {words.degrees(known.worst_at_c, unit, 0)}), {words.apart(known.usual_k, unit)} usually "
        f"(k = 2: so in 95 of 100 cases), while the board itself is at {low} to {high}; its floor "
        f"is measured again before each stand-in. Calibrate again in {known.days / 30:.0f} months.{meter}"
    )
