"""The swap relay: a pin that allows it and a pump that must be kept moving.

The pump's pin is toggled by the program, never by a PWM: a crash, a hang or a halted core stops
it, and the coil lets go within 250 ms with nobody's help.
"""

import machine
import micropython


class Coil:
    def __init__(self, relay, heart):
        pin = machine.Pin
        self._relay = pin(relay, pin.OUT, value=0)
        self._heart = pin(heart, pin.OUT, value=0)
        self.on = 0
        self._level = 0

    def set(self, on):
        """Allow or release. Releasing also leaves the pump's pin low."""
        if on:
            self._relay(1)
            self.on = 1
        else:
            self._relay(0)
            self._heart(0)
            self._level = 0
            self.on = 0

    @micropython.native
    def beat(self):
        """One edge for the pump, if the relay is allowed."""
        if self.on:
            self._level ^= 1
            self._heart(self._level)
