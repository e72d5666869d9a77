"""The way into a calibration, from wherever somebody asks for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from locum.ui.places.calibrate import CalibratePage
from locum.ui.places.place import Over

if TYPE_CHECKING:
    from locum.ui.app import LocumApp


async def ask_calibrate(app: LocumApp) -> None:
    """Show what must be true before a calibration; Enter there begins it. Asks nothing of the board."""
    while isinstance(app.screen, Over):
        await app.pop_screen()
    await app.push_screen(app.get_screen("calibrate", CalibratePage))
