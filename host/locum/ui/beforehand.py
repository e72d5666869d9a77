"""Places are built before anybody goes there: a key then only has to show what stands already.

Theory of operation. The library builds a screen when it is first shown, which takes as long as two
keys may. Here one screen after another is built between two looks, once the first one is in view; none of
them is shown, and nothing is asked of the desk by it. Whoever is quicker with a key than that finds
the screen built by the key, as before.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual.app import App

EVERY_S = 0.1
"""Between two of them: a key that comes meanwhile waits for one at most. [s]"""


def build_beforehand(app: App, names: Sequence[str], then: Callable[[], None]) -> None:
    """Build these installed screens, one at a time, those wanted soonest first; then call ``then``."""
    left = list(names)

    def one() -> None:
        if not left:
            then()
        elif app.is_running:
            build(app, left.pop(0))
            app.set_timer(EVERY_S, one)

    app.set_timer(EVERY_S, one)


def build(app: App, name: str) -> None:
    """Build an installed screen without showing it; nothing where it stands already."""
    screen = app.get_screen(name)
    if not screen.is_running:
        app._register(app, screen)  # what the library does itself when it shows a screen first
