"""The one table from code words to the words on screens, and how numbers are told there.

No code word reaches a screen except through here; a test walks every value of every field that a
screen shows.
"""

from __future__ import annotations

from locum.ui.figures import ago, apart, clock, degrees, odds, ohms, said

__all__ = ["ago", "apart", "clock", "degrees", "event_words", "odds", "ohms", "outcome", "said"]

SOURCE = {
    "real": "REAL SENSOR",
    "stand_in": "STAND-IN",
    "moving": "CHANGING OVER",
}
SOURCE_MEANS = {
    "real": "the module sees the vehicle's own sensor",
    "stand_in": "the module sees what this board tells it",
    "moving": "relay on its way",
}
STATE = {
    "rest": "at rest",
    "ready": "at rest, ready",
    "holding": "holding a value",
    "running": "under way",
    "returning": "easing back to the real sensor",
    "tripped": "let go by itself",
}
CONTACT = {"through": "", "open": "line open", "short": "line shorted"}
DOING = {
    "": "",
    "listen": "listening",
    "hold": "hold",
    "sweep": "sweep",
    "replay": "replay",
    "follow": "following, glitches left out",
    "contact": "one contact",
    "glitch": "glitches with blanks between",
    "swap": "unseen swap test",
    "stay": "holding the present value",
    "calibrate": "calibrating",
}
CAUSE_OF_TRIP = {
    "blind": "the real sensor could not be read for a minute",
    "standing": "the longest time away from the real sensor was over",
    "hot": "the real sensor is hotter than allowed",
    "line": "the module's line left its range",
    "self_check": "the line was not where the plan says",
    "supply": "the board's supply fell",
    "silence": "the computer was silent",
    "watchdog": "the board's program hung",
    "switch": "the rest switch was moved",
    "plan_late": "the plan's next part came too late",
    "fault": "a part of the board does not answer",
}
PHASE = {
    "closed": "no board opened yet",
    "opening": "opening the board",
    "recording": "recording",
    "lost": "LINK LOST",
    "closing": "closing the record",
    "failed": "NO BOARD",
    "ended": "recording ended",
}
STRETCH = {
    "real": "The stretch with the real sensor",
    "stand_in": "The stretch with the stand-in",
    "follow": "The stretch of following",
    "open": "The stretch with the line open",
    "short": "The stretch with the line shorted",
}
FOOT = {
    "still": "FOOT STILL: steady road, no brake",
    "normal": "drive as usual",
}
SUPPLY = {"unknown": "not known", "host": "this computer", "power_bank": "a power bank"}
EVENT = {
    "kick_out": "KICK-OUT",
    "release": "let go",
    "glitch": "glitch",
    "injected": "given",
    "mark": "marked",
    "chatter": "line chatters",
    "connected": "",
    "gap": "record missing",
}
TOWARDS = {"cold": "towards cold", "hot": "towards hot", "open": "open", "short": "short",
           "step": "step"}  # fmt: skip
RELEASE_CAUSE = {
    "driver": "by the driver",
    "road": "by the road",
    "ours": "by us",
    "unknown": "cause not known",
    "none": "no cause seen",
    "brake": "by the brake",
    "throttle": "by the throttle",
    "open": "by our open",
    "short": "by our short",
    "step": "by our step",
    "changeover": "by our changeover",
    "way_home": "on our way home",
}
MARK = {
    "button": "button",
    "key": "felt",
    "foot": "that was the foot",
    "brake": "that was the brake",
    "road": "that was the road",
    "felt": "something was felt",
    "not_felt": "nothing was felt",
    "note": "note",
}
PROOF = {
    "none": "nothing shown yet",
    "possible": "possible",
    "coincident": "coincident",
    "sufficient": "sufficient",
    "necessary": "necessary",
    "reversible": "reversible",
    "found": "found",
    "cured": "cured",
}
TEST = {
    "garwood": "exact limits of a rate (Garwood)",
    "conditional_test": "exact test of two rates, given their sum",
    "stratified_conditional": "exact test of two rates, drive by drive",
    "fisher": "Fisher's exact test",
    "clopper_pearson": "exact limits of a share (Clopper-Pearson)",
    "coincidence_chance": "chance that a glitch happens to be near",
    "at_least": "chance of so many or more by luck",
    "at_most": "chance of so few or fewer by luck",
    "zero_failure_hours": "quiet time needed at the old rate",
    "quiet_hours_needed": "quiet time needed at the old rate",
}
STANDING = {
    "shown": "shown",
    "possible": "possible",
    "cleared": "cleared",
    "not_knowable": "cannot be told",
}
DRIVE = {
    "listen": "listening",
    "provoke": "provoking",
    "glitch": "provoking",
    "open": "one open",
    "short": "one short",
    "follow": "following",
    "hold": "holding",
    "sweep": "sweep",
    "replay": "replay",
    "reverse": "real again",
    "quiet": "quiet drive",
    "swap": "unseen swap",
}
SHEET = {"sensor": "sensor", "module": "module", "vehicle": "vehicle", "profile": "profile"}
FINDING = {
    "note": "note",
    "suspect": "suspect",
    "confirmed": "complaint confirmed",
    "criterion": "rule of the quiet drive",
    "threshold": "threshold measured",
    "shortest": "shortest answered glitch",
    "found": "defect seen",
    "repair": "repaired",
    "hand_back": "handed back",
    "follow_up": "asked afterwards",
    "foreign_log": "log from elsewhere",
    "codes_possible": "codes to clear",
    "glitch_kept": "glitch kept",
    "closed": "closed",
    "reopened": "opened again",
    "erased": "names erased",
    "draw_sealed": "draw sealed",
    "draw_revealed": "draw revealed",
}
UNDONE = {
    "cautions": "not read",
    "calibrated": "not done",
    "self-test": "not done",
    "plan": "none",
    "case": "none",
}
PREPARED = {"ready": "ready", "missing": "missing", "refused": "REFUSED"}


OUTCOME = {
    "begun": "being done since {when}",
    "done": "done at {when}",
    "over": "done at {when}",
    "refused": "REFUSED, REAL SENSOR connected. {why}",
    "kept": "REFUSED, nothing changed: the STAND-IN stays as it was. {why}",
    "lost": "not done. {why}",
    "ended": "ended by key at {when}",
    "real": "over since {when}: REAL SENSOR",
}


def outcome(asked: str, how: str, t_s: float, why: str) -> str:
    """What became of a request, in one sentence."""
    return f"{asked}: {OUTCOME[how].format(when=clock(t_s), why=why)}"


def event_words(kind: str, words: str, detail: str) -> str:
    """One event of the running lines in screen words."""
    head = EVENT.get(kind, "")
    if kind == "kick_out":
        return head
    if kind == "release":
        return f"{head} {RELEASE_CAUSE.get(detail, '')}".strip()
    if kind == "injected" and words == "step":
        return f"{head} a jump of what is told"  # it has no length
    if kind in ("glitch", "injected"):
        return f"{head} {TOWARDS.get(words, '')}, {detail}"
    if kind == "mark":
        return f"{head}: {MARK.get(words, words)}"
    return f"{head} {words}".strip()
