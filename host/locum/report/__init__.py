"""Pages and figures: one page for the customer, one for another workshop, from the same numbers."""

from __future__ import annotations

from typing import Any

from locum.report.data import CaseReport


def render_case(case_data: CaseReport | dict[str, Any], style: str = "workshop") -> str:
    """One case as a self-contained HTML page.

    Parameters
    ----------
    case_data
        A ``CaseReport``, or the dict that ``CaseReport.as_dict`` makes.
    style
        ``workshop`` (pins, volts, ohms, tests, raw numbers) or ``customer`` (one page, plain words).

    Returns
    -------
    str
        HTML that refers to nothing outside itself and can be printed. The same numbers stand in it
        as JSON, in the element with the id ``case-data``.
    """
    from locum.report.page import page

    return page(case_data, style)


__all__ = ["CaseReport", "render_case"]
