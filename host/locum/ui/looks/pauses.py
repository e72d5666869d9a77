"""Keep the collector's pauses short: a full collection over everything imported would take 100 ms.

What the imports made lives as long as the program; frozen, it is never looked through again, and a full
collection only walks what the screens themselves made. Measured by the benchmark of the screens.
"""

from __future__ import annotations

import gc


def short_pauses() -> None:
    """Leave everything that exists now out of later collections; call it once, before the screens run."""
    gc.collect()
    gc.freeze()
