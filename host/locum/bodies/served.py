"""Bodies to be served to any client: which board, in which world, on which interpreter."""

from __future__ import annotations

import secrets
import time
import tomllib
from typing import Any, Protocol

from locum.errors import Misuse, Remark
from locum.locations import asset_root

MOST_BOOT = (1 << 30) - 1
"""Boot numbers go from 1 to here; each start has another, or a lost board is taken for the same run."""
CATCH_UP_MS = 2000
"""After a stop longer than this (the computer slept) the virtual board goes on from now."""


class ServedBody(Protocol):
    """A board that can be served: bytes in and out, and time that goes on."""

    def receive(self, data: bytes) -> bytes: ...

    def turn(self) -> bytes: ...

    def close(self) -> None: ...


class RealTimeVirtual:
    """A virtual board that keeps to real time."""

    def __init__(self, body: Any) -> None:
        self.body = body
        self._began = time.monotonic() - body.elapsed_ms / 1000.0

    def receive(self, data: bytes) -> bytes:
        return self.turn() + self.body.receive(data)

    def turn(self) -> bytes:
        """Bring the board to the present; what it has to say (an *OPC? that waited)."""
        behind = int((time.monotonic() - self._began) * 1000) - self.body.elapsed_ms
        if behind > CATCH_UP_MS:
            self._began += (behind - CATCH_UP_MS) / 1000.0
            behind = CATCH_UP_MS
        if behind > 0:
            self.body.advance(behind)
        return self.body.receive(b"")

    def close(self) -> None:
        self.body.close()


def open_served(body: str, interpreter: str = "python", seed: int = 1) -> ServedBody:
    """``virtual`` (in the demo's world) or ``pi`` (this computer's own pins)."""
    if body == "pi":
        from locum.bodies.pi import open_pi

        return open_pi(_sheet("pi"))
    if body != "virtual" or interpreter not in ("python", "micropython"):
        raise Misuse(
            Remark(
                code="no_such_body",
                wanted="--body virtual or pi, --interpreter python or micropython",
                found=f"{body}, {interpreter}",
            )
        )
    from locum.bodies.virtual import VirtualBody
    from locum.virtual.analog import NetworkTruth
    from locum.virtual.scenarios import make_demo_world

    world = make_demo_world(seed)
    world.tell("engine_start", cold_c=18.0)
    world.tell("drive")
    sheet = _sheet("reference")
    away = "" if interpreter == "python" else interpreter
    return RealTimeVirtual(
        VirtualBody(
            world,
            NetworkTruth(sheet, seed),
            sheet,
            seed=seed,
            interpreter=away,
            boot_id=1 + secrets.randbelow(MOST_BOOT),
        )
    )


def _sheet(name: str) -> dict[str, Any]:
    path = asset_root("hardware/boards") / f"{name}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))
