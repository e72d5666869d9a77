"""What a board keeps to by itself: limits while it stands in, and how it listens."""

from __future__ import annotations

from collections.abc import Sequence

from locum.link.talk import Talk


class Settable(Talk):
    """The settings of a connected board."""

    def set_limits(
        self,
        *,
        standing_s: int | None = None,
        hot_milliohm: int | None = None,
        real_falls: bool = True,
        sane_milliohm: tuple[int, int] | None = None,
        follow_rate: int | None = None,
        return_rate: int | None = None,
    ) -> None:
        """Limits kept by the board itself.

        ``standing_s``: longest time by hand, 1..14400. ``hot_milliohm``: the real sensor beyond
        this is too hot: below it, or above it if ``real_falls`` is False (a sensor whose
        resistance rises); 0 = no limit. ``sane_milliohm``: between these the real sensor counts
        as working. Rates in ladder units per second (a unit is a millikelvin for a ladder made
        with a curve): following 1..300, returning 1..1000.
        """
        if standing_s is not None:
            self.tell("OUTP:STAN", standing_s)
        if hot_milliohm is not None:
            self.tell("SENS:RES:HOT", hot_milliohm, "FALL" if real_falls else "RISE")
        if sane_milliohm is not None:
            self.tell("SENS:RES:SANE", *sane_milliohm)
        if follow_rate is not None:
            self.tell("SOUR:FOLL:RATE", follow_rate)
        if return_rate is not None:
            self.tell("OUTP:RET:RATE", return_rate)

    def extend_standing(self, seconds: int) -> None:
        """The key that says "I am here": the longest time away starts again at ``seconds``."""
        self.tell("OUTP:STAN:EXT", seconds)

    def set_range(self, real: int, stand_in: int = 3) -> None:
        """Ohmmeter range 0..2 for the real sensor while standing in; 3 = off."""
        self.tell("SENS:RES:RANG", real, stand_in)

    def set_quiet(self, node_counts: int, ohm_counts: int = 16) -> None:
        """Widest span of readings that the record may merge into one row. [converter counts]"""
        self.tell("SENS:QUI", node_counts, ohm_counts)

    def set_line_kinds(self, kinds: Sequence[str]) -> None:
        """Per watch line: switched, pwm, peak_hold or ignore."""
        names = {"switched": "SWIT", "pwm": "PWM", "peak_hold": "PEAK", "ignore": "IGN"}
        for number, kind in enumerate(kinds, 1):
            self.tell("SENS:LINE:KIND", number, names[kind])
