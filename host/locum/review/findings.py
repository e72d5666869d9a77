"""What review hands on: facts with times, nothing weighed.

One call of ``step`` returns what became certain in it; :func:`joined` puts parts together and the
sum is the same however the record was cut. Times are board milliseconds since the drive began.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, field, fields

import numpy as np

CAUSES = ("driver", "road", "ours", "unknown", "none")
"""Of a release. ``none`` makes it a kick-out; ``unknown``: a needed channel is missing."""

TEMPERATURE = np.dtype([("t_ms", "i8"), ("milliohm", "i4")])


@dataclass(frozen=True)
class Glitch:
    """The sensor line left what physics allows, for a while."""

    t_ms: int
    length_ms: float
    towards: str
    """``cold`` (open side) or ``hot`` (short side)."""
    depth_ohm: float
    """Resistance at its worst; infinite if open, NaN if the pull-up is not known. [ohm]"""
    depth_k: float
    """Greatest departure in kelvin on the sensor's (or a usual NTC's) curve. [K]"""
    channel: str
    """``node`` or ``ohmmeter``."""
    place: str
    """``circuit`` (heard on the node, real sensor feeding), ``line`` (on the node while standing
    in: between tap and module) or ``sensor`` (ohmmeter under the mask: beyond the tap)."""
    kind: str = "rate"
    """``range`` (reaches open or short), ``rate``, or ``step`` (level shift that stays)."""
    burst: int = 0
    """Glitches closer than 1 s share a number."""
    ours: bool = False
    """Caused by the board's own move; kept apart from the sensor's."""


@dataclass(frozen=True)
class Injection:
    """A disturbance the board made on purpose."""

    t_ms: int
    length_ms: int
    kind: str
    """``open``, ``short`` or ``step``."""
    answered_ms: int | None = None
    """Delay of the release that followed within the look-back; None if none did."""
    ohm: float | None = None
    """What the module saw: infinite if open, None if not known. [ohm]"""


@dataclass(frozen=True)
class Release:
    """The module left a state it held."""

    t_ms: int
    from_state: str
    to_state: str
    regained_ms: int | None = None
    """When the state was regained; None while it is not."""
    cause: str = "none"
    cause_detail: str = ""
    linked_glitch: int | None = None
    """``t_ms`` of the glitch within the look-back, whatever the cause."""
    repeat: bool = False
    """Within the refractory time of the one before, whose cause was neither driver nor road: the
    same event, not counted again."""
    pressed: bool = False
    """The mark button or key belongs to it."""
    brake_pulse_ms: int | None = None
    """Length of the brake pulse in the look-back, None if there was none or no line."""

    @property
    def kick_out(self) -> bool:
        """True if it counts: no cause was found though the channels were there."""
        return self.cause == "none" and not self.repeat


@dataclass(frozen=True)
class Exposure:
    """Seconds of the record, sorted by the case's rule. Sums over drives add."""

    recorded_s: float = 0.0
    exposed_s: float = 0.0
    """Meets the rule and was watched."""
    exposed_real_s: float = 0.0
    exposed_stand_in_s: float = 0.0
    unwatched_s: float = 0.0
    """Records lost in it."""


@dataclass
class Findings:
    """Facts of one stretch of record; lists sorted by time."""

    releases: list[Release] = field(default_factory=list)
    amended: list[Release] = field(default_factory=list)
    """Releases handed on before, of which more is known now (regained, answered by a key)."""
    glitches: list[Glitch] = field(default_factory=list)
    injections: list[Injection] = field(default_factory=list)
    states: list[tuple[int, str]] = field(default_factory=list)
    """(t_ms, name) as entered; groups other than the first as ``group: name``; ``?`` with its
    bits for patterns not in the sheet."""
    pulses: list[tuple[int, int, int]] = field(default_factory=list)
    """(t_ms, line, length_ms) shorter than the debounce: self-test of the module."""
    brake: list[tuple[int, int]] = field(default_factory=list)
    """(t_ms, length_ms) of the brake line's pulses."""
    throttle: list[int] = field(default_factory=list)
    """Times the throttle moved by more than the context's step."""
    hunting: list[tuple[int, int, int]] = field(default_factory=list)
    """(t_ms, until_ms, changes)."""
    chatter: list[tuple[int, int]] = field(default_factory=list)
    """(t_ms, line): three changes or more within 1 s, an electrical event."""
    supply: list[tuple[int, bool]] = field(default_factory=list)
    """(t_ms, on?) of the ignition line."""
    noise: list[tuple[int, int]] = field(default_factory=list)
    """(t_ms, length_ms) of both-sided disturbance: hum or interference, no glitch."""
    offset_events: list[tuple[int, int]] = field(default_factory=list)
    """(t_ms, length_ms) of shifts of the return wire."""
    marks: list[tuple[int, str]] = field(default_factory=list)
    """(when it was felt, kind): ``button`` ``key`` ``foot`` ``brake`` ``road`` ``felt``
    ``not_felt``. A press told to be late stands at the release that it means."""
    sources: list[tuple[int, str]] = field(default_factory=list)
    """(t_ms, ``real`` | ``stand_in``) as it changed."""
    exposed: list[tuple[int, int]] = field(default_factory=list)
    """Spans of exposed and watched time, whole seconds."""
    temperature: np.ndarray = field(default_factory=lambda: np.empty(0, TEMPERATURE))
    """The real sensor's resistance about once a second, from node or ohmmeter."""
    exposure: Exposure = field(default_factory=Exposure)

    @property
    def kick_outs(self) -> list[Release]:
        return [release for release in self.releases if release.kick_out]

    def as_dict(self) -> dict:
        """Plain lists and numbers for the store; the temperature track is left out."""
        plain = {}
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name in ("temperature", "amended"):
                continue
            if item.name == "exposure":
                plain[item.name] = asdict(value)
            else:
                plain[item.name] = [
                    asdict(x) if hasattr(x, "t_ms") else list(x) if isinstance(x, tuple) else x
                    for x in value
                ]
        return plain


def joined(parts: Iterable[Findings]) -> Findings:
    """Findings of consecutive spans as one; amendments replace what they amend."""
    whole = Findings()
    tracks = []
    sums = dict.fromkeys((item.name for item in fields(Exposure)), 0.0)
    for part in parts:
        for item in fields(Findings):
            if item.name not in ("temperature", "exposure"):
                getattr(whole, item.name).extend(getattr(part, item.name))
        tracks.append(part.temperature)
        for name in sums:
            sums[name] += getattr(part.exposure, name)
    whole.temperature = np.concatenate(tracks) if tracks else whole.temperature
    whole.exposure = Exposure(**sums)
    whole.exposed = _merged(whole.exposed)
    latest = {release.t_ms: release for release in whole.releases}
    latest.update({release.t_ms: release for release in whole.amended})
    whole.releases = [latest[release.t_ms] for release in whole.releases]
    whole.amended = []
    whole.releases.sort(key=lambda release: (release.t_ms, release.from_state))
    whole.injections.sort(key=lambda injection: injection.t_ms)
    whole.glitches.sort(key=lambda glitch: (glitch.t_ms, glitch.channel))
    for name in ("states", "pulses", "brake", "throttle", "hunting", "chatter", "supply", "noise"):
        getattr(whole, name).sort()
    whole.marks.sort()
    return whole


def _merged(spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    out: list[tuple[int, int]] = []
    for begin, end in spans:
        if out and out[-1][1] == begin:
            out[-1] = (out[-1][0], end)
        else:
            out.append((begin, end))
    return out
