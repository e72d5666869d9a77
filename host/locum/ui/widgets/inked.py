"""A widget that draws its rows itself and keeps the styles it draws them with.

The library works a style out anew each time it is asked for it, which for thirty rows ten times a second
was a sixth of what the screens cost.
"""

from __future__ import annotations

from rich.style import Style
from textual.widget import Widget


class Inked(Widget):
    """Styles are kept until the library says that one of them changed."""

    def __init__(self, **kwargs) -> None:
        super().__init__(**kwargs)
        self._inks: dict[str, Style] = {}

    def ink(self, name: str = "") -> Style:
        """The style of one of ``COMPONENT_CLASSES``; the widget's own where no name is given."""
        known = self._inks.get(name)
        if known is None:
            made = self.get_component_rich_style(name) if name else self.rich_style
            known = self._inks[name] = made
        return known

    def notify_style_update(self) -> None:
        super().notify_style_update()
        self._inks.clear()
