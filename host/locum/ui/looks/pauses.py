"""Keep the collector's pauses short: a full collection over everything imported would take 100 ms.

What the imports and the places are made of lives as long as the program; frozen, it is never looked
through again, and a full collection only walks what came later, such as the running lines. Measured by
the benchmark of the screens.
"""

from __future__ import annotations

import gc
from typing import Protocol


class Building(Protocol):
    """An application that builds its places beforehand."""

    def when_built(self) -> None:
        """Called once all of them stand."""


def short_pauses(app: Building) -> None:
    """Leave what exists now, and the places once they are built, out of later collections; call it
    once, before the screens run."""
    freeze()
    app.when_built = freeze


def freeze() -> None:
    """Everything that exists now stays out of later collections."""
    gc.collect()
    gc.freeze()
