"""The independent witness of a virtual run: what may the module see?

*The module sees the real sensor, the plan within its limits, or its way home; nothing else.*

The monitor believes nobody. It reads the host's bytes with a reader of its own, keeps what the
host has allowed (codes, plan steps, rungs, contacts, times), and after every stretch of simulated
time compares that with the pins and with the load the module really had. It shares no code with
the engine. Attach it with ``attach(body)``; ``assert_clean()`` at the end, or look at
``breaches``.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass, field

SLACK_MS = 260
"""The virtual body acts on limits at the end of a stretch of at most 250 ms."""
HOLD_MS = 3000
HOME_MS = 20_000
LINE_MOST_V = 5.3
CHANGE_MS = 5
"""A make-before-break relay has both on the line for a moment while it moves."""
BLOCK = re.compile(rb"([A-Za-z:]+)\s+#(\d)")


@dataclass
class Allowed:
    """What the host has allowed so far."""

    by_hand: set[tuple] = field(default_factory=set)
    plan: set[tuple] = field(default_factory=set)
    contacts: set[int] = field(default_factory=set)
    plan_standing_ms: int = 0
    plan_runs_on: bool = False
    plan_follows: bool = False
    rungs: dict[tuple, int] = field(default_factory=dict)
    weights: list[int] = field(default_factory=list)
    hand_standing_ms: int = 1_200_000
    hold_ms: int = HOLD_MS
    rate: float = 1000.0


class Monitor:
    """See the module's text. ``breaches`` are sentences; empty is good."""

    def __init__(self, body) -> None:
        self.body = body
        self.breaches: list[str] = []
        self.stretches = 0
        self.stand_in_ms = 0
        self.allowed = Allowed()
        self.commanded = False
        self.plan_started = False
        self.limit_ms = 1_200_000
        self.heard_ms = 0
        self.standing_from: int | None = None
        self.contact_until = -1
        self.contact_kind = 0
        self._rung_at: tuple[int, int] | None = None
        self._rest = b""
        self._receive = body.receive
        body.receive = self.receive
        body.observers.append(self.watch)

    # -- the host's bytes ------------------------------------------------------------------------

    def receive(self, data: bytes) -> bytes:
        """Look at what the host says."""
        answer = self._receive(data)
        self._rest += data
        while (message := self._next_message()) is not None:
            self.heard_ms = self.body.elapsed_ms
            self._hear(*message)
        return answer

    def _next_message(self) -> tuple[bytes, bytes | None] | None:
        found = BLOCK.match(self._rest)
        if found:
            digits = int(found[2])
            start = found.end() + digits
            size = int(self._rest[found.end() : start] or b"0")
            if len(self._rest) < start + size + 1:
                return None
            payload = self._rest[start : start + size]
            self._rest = self._rest[start + size :].split(b"\n", 1)[1]
            return found[1], payload
        if b"\n" not in self._rest:
            return None
        line, self._rest = self._rest.split(b"\n", 1)
        return line.strip(), None

    def _hear(self, line: bytes, payload: bytes | None) -> None:
        text = line.decode("ascii", "replace").upper().lstrip(":")
        text = text.removeprefix("SOUR:")
        if payload is not None:
            self._hear_block(text, payload)
            return
        for unit in text.split(";"):
            self._hear_unit(unit.strip().removeprefix(":").removeprefix("SOUR:"))

    def _hear_unit(self, unit: str) -> None:
        now = self.body.elapsed_ms
        head, _, rest = unit.partition(" ")
        fields = [part.strip() for part in rest.split(",")] if rest else []
        if head == "CODE" and len(fields) >= 4:
            words = [int(value) for value in fields[:4]]
            self.allowed.by_hand.add(pins_of(words, int(fields[4]) if len(fields) > 4 else 0))
        elif head in ("OUTP", "OUTP:STAT"):
            self._switch(fields[0] in ("ON", "1"), self.allowed.hand_standing_ms)
        elif head == "*RST":
            self._switch(False, 0)
        elif head in ("INIT", "*TRG", "TRIG"):
            self.plan_started = True
            self._switch(True, self.allowed.plan_standing_ms)
            self.standing_from = None if self.standing_from is None else now
        elif head == "FOLL" and fields and fields[0] == "ON":
            seconds = int(fields[1]) if len(fields) > 1 else 0
            self._switch(True, seconds * 1000 or self.allowed.hand_standing_ms)
            self.standing_from = None if self.standing_from is None else now
        elif head == "CONT":
            self.contact_kind = {"OPEN": 1, "SHOR": 2, "SHORT": 2}.get(fields[0], 0)
            length = int(fields[1]) if len(fields) > 1 else 0
            self.contact_until = now + length if length else 1 << 60
        elif head == "OUTP:STAN":
            self.allowed.hand_standing_ms = int(float(fields[0])) * 1000
        elif head == "OUTP:STAN:EXT":
            self.standing_from, self.limit_ms = now, int(fields[0]) * 1000
        elif head == "SYST:COMM:TIM":
            self.allowed.hold_ms = round(float(fields[0]) * 1000)
        elif head == "OUTP:RET:RATE":
            self.allowed.rate = float(fields[0])

    def _switch(self, on: bool, limit_ms: int) -> None:
        self.commanded = on
        if on:
            self.limit_ms = limit_ms
        else:
            self.plan_started = False

    def _hear_block(self, header: str, payload: bytes) -> None:
        if header.startswith("LIST:DATA") and payload[:2] == b"LP" and len(payload) > 46:
            self._hear_plan(payload, header.endswith("APP") or header.endswith("APPEND"))
        elif header.startswith("LADD:DATA") and payload[:2] == b"LL":
            self.allowed.rungs, self.allowed.weights = {}, []
            for number, at in enumerate(range(12, len(payload) - 4, 18)):
                _, weight, *words, _, flags = struct.unpack_from("<I7H", payload, at)
                self.allowed.rungs[pins_of(words, flags & 3)] = number
                self.allowed.weights.append(weight)

    def _hear_plan(self, payload: bytes, append: bool) -> None:
        allowed = self.allowed
        if not append:
            allowed.plan, allowed.contacts, allowed.plan_follows = set(), set(), False
            allowed.plan_standing_ms = struct.unpack_from("<I", payload, 20)[0] * 1000
            allowed.plan_runs_on = bool(payload[3] & 1)
        for at in range(28, len(payload) - 4, 14):
            _, *words, _, flags = struct.unpack_from("<7H", payload, at)
            if flags & 0x8000:
                continue
            allowed.contacts.add(flags >> 2 & 3)
            if flags & 0x10:
                allowed.plan_follows = True
            else:
                allowed.plan.add(pins_of(words, flags & 3))

    # -- the pins --------------------------------------------------------------------------------

    def watch(self, body, t0_ms: int, t1_ms: int, load, scene) -> None:
        """Judge one stretch ``[t0_ms, t1_ms)``."""
        self.stretches += 1
        hands = body.hands
        if load.kind == "sensor":
            if hands.energised:
                self._breach(t0_ms, "relay energised, yet the module has the real sensor")
            self.standing_from = None
            self._rung_at = None
            return
        if load.kind == "both":
            if t1_ms - t0_ms > CHANGE_MS or (hands.energised and not self.commanded):
                self._breach(t0_ms, "the relay has both on the line for no reason or too long")
            return
        self.stand_in_ms += t1_ms - t0_ms
        if self.standing_from is None:
            self.standing_from = t0_ms
        if not self.commanded:
            self._breach(t0_ms, f"{load.kind} without having been asked for")
        if t1_ms - self.standing_from > self.limit_ms + SLACK_MS + t1_ms - t0_ms:
            self._breach(t0_ms, "away from the real sensor for longer than allowed")
        if float(scene.node_v.min()) > LINE_MOST_V + 0.02 and t1_ms - t0_ms >= 20:
            self._breach(t1_ms, "line above its limit while standing in")
        self._watch_contact(hands.contact_kind, t0_ms)
        self._watch_value(hands, t0_ms)

    def _watch_contact(self, kind: int, t_ms: int) -> None:
        if kind == 0:
            return
        by_hand = kind == self.contact_kind and t_ms < self.contact_until
        in_plan = self.plan_started and kind in self.allowed.contacts
        if not by_hand and not in_plan:
            self._breach(t_ms, f"contact {kind} that nobody asked for")

    def _watch_value(self, hands, t_ms: int) -> None:
        words = [c | (0x8000 if out else 0) for c, out in zip(hands.codes, hands.out, strict=True)]
        pins = pins_of(words, hands.hot_branches)
        allowed = self.allowed
        rung = allowed.rungs.get(pins)
        known = pins in allowed.by_hand or (self.plan_started and pins in allowed.plan)
        if not known and rung is None:
            self._breach(t_ms, f"a value from nowhere: {words}")
        silent_ms = t_ms - self.heard_ms
        runs_on = self.plan_started and allowed.plan_runs_on
        if silent_ms > allowed.hold_ms + HOME_MS + 2 * SLACK_MS and not runs_on:
            self._breach(t_ms, f"host silent for {silent_ms} ms and still not home")
        self._watch_walk(rung, t_ms, known)

    def _watch_walk(self, rung: int | None, t_ms: int, known: bool) -> None:
        if rung is None:
            self._rung_at = None
            return
        before = self._rung_at
        if before is None or before[0] == rung or known:
            self._rung_at = (rung, t_ms) if before is None or before[0] != rung else before
            return
        low, high = sorted((before[0], rung))
        cost = sum(self.allowed.weights[low + 1 : high + 1])
        most = self.allowed.rate * (t_ms - before[1] + 250) / 1000 + 1
        first = max(self.allowed.weights[low + 1 : high + 1])
        if cost > most + first:
            self._breach(t_ms, f"walked {cost} units in {t_ms - before[1]} ms")
        self._rung_at = (rung, t_ms)

    def _breach(self, t_ms: int, what: str) -> None:
        if len(self.breaches) < 20:
            self.breaches.append(f"{t_ms} ms: {what}")

    def assert_clean(self) -> None:
        assert self.stretches > 0, "the monitor has seen nothing"
        assert not self.breaches, "\n".join(self.breaches)


def pins_of(words, hot: int) -> tuple:
    """What four wiper words and the hot branches are at the pins; an out wiper's code is nothing."""
    return (*(-1 if word & 0x8000 else word & 0x1FF for word in words), hot)


def attach(body) -> Monitor:
    """Watch a virtual body from now on."""
    return Monitor(body)
