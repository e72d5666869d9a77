"""The sensor circuit as resistances: module, harness, tap, connector, sensor.

                   harness            connector
    module pin o----[r_h]----+ LINE +----[r_c]----[sensor]----o return       tap at the sensor plug
    module pin o----+ LINE +----[r_h]----[r_c]----[sensor]----o return       tap at the module plug

The board's ground is the return *at the tap*. A break between tap and module, in whichever wire,
therefore makes the board's node fall to 0 V while the module's pin rises to its open voltage.
"""

from __future__ import annotations

OPEN_OHM = 1e9
SHORT_OHM = 0.3
PLACES = ("sensor", "connector", "harness")


class Chain:
    """Present faults of the circuit and where it is tapped."""

    def __init__(self) -> None:
        self.tap = "none"
        """``none``, ``sensor`` or ``module``."""
        self.series: dict[str, float] = {}
        """Place -> ohms in series at present."""
        self.shunt: dict[str, float] = {}
        """Place -> ohms to the return at present (towards hot)."""
        self.quiet = True
        self._under_way: dict[str, int] = {}

    def disturb(self, place: str, residual_ohm: float, towards_cold: bool) -> None:
        """A disturbance begins; they may overlap, the last one's ohms count."""
        self._under_way[place] = self._under_way.get(place, 0) + 1
        (self.series if towards_cold else self.shunt)[place] = residual_ohm
        self.quiet = False

    def calm(self, place: str) -> None:
        """One disturbance of that place ends; the place is well when all have ended."""
        self._under_way[place] -= 1
        if self._under_way[place] > 0:
            return
        self.series.pop(place, None)
        self.shunt.pop(place, None)
        self.quiet = not self.series and not self.shunt

    def reaches_module(self, place: str, connected: bool) -> bool:
        """Whether a fault at that place changes what the module sees; ``connected``: the real
        sensor is on the line."""
        return connected or (place == "harness" and self.tap == "sensor")

    def lead_ohm(self, sensor_ohm: float) -> float:
        """What an ohmmeter sees from the tap towards the sensor."""
        if self.quiet:
            return sensor_ohm
        ohm = sensor_ohm
        for place in PLACES:
            if place == "harness" and self.tap == "sensor":
                continue
            ohm = min(OPEN_OHM, ohm + self.series.get(place, 0.0))
            shunt = self.shunt.get(place)
            if shunt is not None:
                ohm = ohm * shunt / (ohm + shunt) if ohm + shunt > 0 else 0.0
        return ohm

    def volts(self, open_v: float, pull_up_ohm: float, load_ohm: float) -> tuple[float, float]:
        """(volts at the module's pin, volts at the board's LINE) for a load at the tap."""
        ahead = self.tap == "sensor" and not self.quiet
        series = self.series.get("harness", 0.0) if ahead else 0.0
        shunt = self.shunt.get("harness") if ahead else None
        below = load_ohm + series
        if shunt is not None:
            below = below * shunt / (below + shunt) if below + shunt > 0 else 0.0
        pin_v = open_v * below / (below + pull_up_ohm)
        if not ahead:
            return pin_v, pin_v
        return pin_v, pin_v * load_ohm / (load_ohm + series)
