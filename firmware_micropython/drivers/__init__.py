"""The Pico's own parts: pins, buses, chips, store. Everything here may name the machine."""
