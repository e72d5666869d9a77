"""The screen as text, and waiting by looking."""

from __future__ import annotations

import asyncio


def screen_text(app) -> str:
    """What stands on the screen, line by line."""
    width, height = app.size
    lines = []
    for strip in app.screen._compositor.render_strips():
        lines.append("".join(segment.text for segment in strip).rstrip())
    return "\n".join(lines[:height])


async def until(pilot, condition, seconds: float = 15.0) -> None:
    """Look until it holds; fails with the screen's text if it never does.

    The screen is looked at ten times a second and so is never idle: waiting for idleness, as the
    pilot's own pause does, would take a second each time.
    """
    loop = asyncio.get_running_loop()
    end_s = loop.time() + seconds
    while loop.time() < end_s:
        await asyncio.sleep(0.05)
        if condition():
            return
    raise AssertionError("never came true; the screen:\n" + screen_text(pilot.app))
