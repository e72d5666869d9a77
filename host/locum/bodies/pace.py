"""How many readings a second a player reaches, and its longest gap: Linux promises neither."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Reached:
    """What a player reached over a while."""

    readings: int
    seconds: float
    longest_gap_ms: float

    @property
    def rate_hz(self) -> float:
        return self.readings / self.seconds if self.seconds > 0 else 0.0

    @property
    def words(self) -> str:
        return f"{self.rate_hz:.0f} readings a second, longest gap {self.longest_gap_ms:.0f} ms"


class Pace:
    """Counts the beats of a player; told by the thread that plays, asked by any other."""

    def __init__(self) -> None:
        self._state = (0, 0.0, 0.0, 0.0)
        """Readings, first and last moment [s], longest gap [s]: one object, so never half new."""

    def beat(self, now_s: float) -> None:
        """One reading was taken at ``now_s``, a clock that only goes forward."""
        readings, first, last, gap = self._state
        if not readings:
            first = last = now_s
        self._state = (readings + 1, first, now_s, max(gap, now_s - last))

    def reached(self) -> Reached:
        """Over all beats since the start or :meth:`restart`. The first one only starts the time."""
        readings, first, last, gap = self._state
        return Reached(max(0, readings - 1), last - first, 1000.0 * gap)

    def restart(self) -> None:
        self._state = (0, 0.0, 0.0, 0.0)
