"""Puts a page together: figures, sentences, tables and the same numbers as JSON."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import jinja2
from markupsafe import Markup

from locum.errors import Misuse, Remark
from locum.report import numbers, sentences, style
from locum.report.curve_figure import curve_figure
from locum.report.data import CaseReport, CountFacts, DriveFacts, ReleaseFacts
from locum.report.drive_figure import drive_figure
from locum.report.number_figures import (
    counts_figure,
    injected_figure,
    quiet_figure,
    rates_figure,
)
from locum.report.words import plain_words

STYLES = ("workshop", "customer")
MOST_DRIVES_DRAWN = 12
"""Each drive is a picture of 20-80 kB; the table lists all of them."""


@cache
def environment() -> jinja2.Environment:
    """Templates with everything escaped; an unknown name in a template is an error."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("locum.report", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for function in (
        numbers.hours,
        numbers.long_hours,
        numbers.digits,
        numbers.short,
        numbers.p_value,
        numbers.percent,
        numbers.span,
        numbers.clock,
        numbers.day,
        numbers.minute,
        numbers.in_unit,
        plain_words,
    ):
        made.filters[function.__name__] = function
    made.globals.update(span=numbers.span, step_words=sentences.STEPS, releases=style.RELEASES)
    return made


def page(case_data: CaseReport | dict[str, Any], style_name: str = "workshop") -> str:
    """HTML of one case; see :func:`locum.report.render_case`."""
    if style_name not in STYLES:
        raise Misuse(
            Remark("no_such_page", "", "a page for " + " or ".join(STYLES), f"'{style_name}'")
        )
    report = case_data if isinstance(case_data, CaseReport) else CaseReport.from_dict(case_data)
    template = environment().get_template(f"{style_name}.html.j2")
    return template.render(
        report=report,
        sign=numbers.sign_of(report.unit),
        figures=figures(report, style_name),
        headline=sentences.headline(report, style_name),
        demonstrated=sentences.cure(report, style_name),
        came_back=sentences.came_back(report),
        why_not=sentences.why_not(report),
        watch_for=sentences.watch_for(report),
        kick_outs=numbered_kick_outs(report),
        own_p=own_p(report),
        data=json_inside_html(report.as_dict()),
    )


def figures(report: CaseReport, style_name: str) -> dict[str, Any]:
    """The figures that the case has something to show in."""
    if style_name == "customer":
        return customer_figures(report)
    out: dict[str, Any] = {"rates": "", "counts": "", "quiet": ""}
    if report.rates:
        out["rates"] = rates_figure(report.rates, report.confidence, "rates")
    if report.counts:
        out["counts"] = counts_figure(report.counts, report.confidence, "counts")
    if report.quiet:
        out["quiet"] = quiet_figure(report.quiet, "quiet")
    out["injected"] = injected_figure(report.drives, "injected")
    out["curve"] = curve_figure(report.curve, "curve", report.unit) if report.curve else ""
    drawn = report.drives[:MOST_DRIVES_DRAWN]
    drives = [
        Markup(drive_figure(drive, f"drive{n}", report.unit)) for n, drive in enumerate(drawn)
    ]
    return {**{name: Markup(svg) for name, svg in out.items()}, "drives": drives}


CUSTOMER_FIGURE_MM = 57.0
"""Three stand side by side on a sheet of A4."""


def customer_figures(report: CaseReport) -> dict[str, Any]:
    """The same numbers, narrower and in plain words."""
    out = {"rates": "", "counts": "", "quiet": ""}
    size = CUSTOMER_FIGURE_MM
    if report.rates:
        words = "times in an hour of such driving"
        out["rates"] = rates_figure(report.rates, report.confidence, "rates", size, words)
    if report.counts:
        words = "followed by the fault"
        told = customer_counts(report)
        if told:
            out["counts"] = counts_figure(told, report.confidence, "counts", size, words)
    if report.quiet:
        out["quiet"] = quiet_figure(report.quiet, "quiet", size)
    return {name: Markup(svg) for name, svg in out.items()}


def customer_counts(report: CaseReport) -> list[CountFacts]:
    """Glitches kept from the module against those it was given; none where the circuit is cleared,
    because then its glitches are not what the customer came for."""
    if report.verdict.culprit != "sensor_circuit":
        return []
    groups = {count.group for count in report.counts}
    left_out = {"sham", "unmasked"} if "injected" in groups else {"sham"}
    return [count for count in report.counts if count.group not in left_out]


def numbered_kick_outs(report: CaseReport) -> list[tuple[DriveFacts, int, ReleaseFacts]]:
    """Every kick-out with its drive and the number it carries in that drive's figure."""
    return [
        (drive, number, release)
        for drive in report.drives
        for number, release in enumerate(
            (release for release in drive.releases if release.cause == "none"), start=1
        )
    ]


def own_p(report: CaseReport) -> float | None:
    """p of the quiet time where a cure is told: it is another one than the conclusion's."""
    cured = [step for step in report.verdict.steps if step.name == "cured" == report.verdict.proof]
    return next((t.p_value for s in cured for t in s.tests if t.p_value is not None), None)


def json_inside_html(data: dict[str, Any]) -> Markup:
    """JSON that cannot end the element it stands in, whatever a note contains."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, indent=1)
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return Markup(text)
