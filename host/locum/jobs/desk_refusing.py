"""What is refused changes nothing: a line mistyped in a moving car must not make the module jump.

Theory of operation. An act that refuses does so before it orders anything of the board, so that the
stand-in goes on as it was. Where the board was already told something by then, or the board itself
said no, nobody can say what stands, and the real sensor is connected.
"""

from __future__ import annotations

from dataclasses import dataclass

from locum.errors import LocumError, Misuse, Refused
from locum.jobs.live import Live


@dataclass(frozen=True)
class Before:
    """What stood when something was asked for."""

    connected: tuple
    """The board's state and plan, as far as an order would change them."""
    doing: str
    doing_words: str
    goal: tuple[float, str] | None
    """Where a hold walked to. [degC]"""


def connected(live: Live, stretch: int) -> tuple:
    """What an order to the board would change: its state, what it copies, its contact, the stretch."""
    status = live.status
    return status.state in ("holding", "running"), status.following, status.contact, stretch


def goes_on(error: LocumError, before: Before, live: Live, stretch: int) -> bool:
    """Whether what stood before still stands, so that a refusal leaves it alone."""
    refused = isinstance(error, Refused | Misuse)
    return refused and before.connected[0] and connected(live, stretch) == before.connected
