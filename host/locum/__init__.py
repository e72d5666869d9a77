"""locum stands in for a vehicle's 2-wire temperature sensor and weighs what that proves."""

__version__ = "0.1.0"
