"""Worlds ready made: the demo's parcel van, and a full world of an event-level case."""

from __future__ import annotations

from .case import Case
from .world import World


def make_demo_world(seed: int, innocent: bool = False) -> World:
    """The invented parcel van. ``innocent``: its brake switch chatters, the sensor's glitches
    are too short to matter."""
    raise NotImplementedError


def world_of_case(case: Case, seed: int) -> World:
    """The same case played sample by sample."""
    raise NotImplementedError
