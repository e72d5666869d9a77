"""``locum module measure``: the pull-up and voltage behind the sensor's connector."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from locum.errors import Misuse, Refused, Remark
from locum.jobs.files import write_text
from locum.jobs.jsontext import Result
from locum.physics.circuit import Thevenin
from locum.physics.measure import thevenin
from locum.physics.measure_doubts import Expected
from locum.sheets import values


@dataclass
class MeasureResult(Result):
    voc_v: float
    rth_ohm: float
    u_voc_v: float
    u_rth_ohm: float
    two_stage: bool
    stages: list[dict[str, float]]
    best_load_ohm: float
    loads: list[dict]
    refusals: list[Remark] = field(default_factory=list)
    warnings: list[Remark] = field(default_factory=list)
    out: str | None = None
    listen_only: bool = False

    @property
    def exit_code(self) -> int:
        return Refused.exit_code if self.refusals and not self.listen_only else 0


def _load(text: str) -> tuple[float, float]:
    ohm, separator, volts = text.partition(":")
    if not separator:
        raise Misuse(Remark("load", f"--load {text}", "OHM:V such as 2.2k:2.37", "no colon"))
    try:
        return values.resistance_ohm(ohm), float(volts.replace(",", ".").rstrip(" vV"))
    except ValueError:
        raise Misuse(Remark("load", f"--load {text}", "OHM:V such as 2.2k:2.37", volts)) from None


def module_text(source: Thevenin, title: str, read: str = "") -> str:
    """A module sheet of a measured source; ``read`` are the readings it comes from, in words."""
    stages = [source.rth_ohm, *(stage.rth_ohm for stage in source.stages)]
    lines = [
        "schema = 1",
        f'title = "{title}"',
        f'source = "measured with a hand meter{": " if read else ""}{read}"',
        "",
        "[pull_up]",
        f"open_v = {source.voc_v:.4f}",
        f"u_open_v = {source.u_voc_v:.4f}",
        f"u_ohm = {source.u_rth_ohm:.2f}",
        "stages = [" + ", ".join(f"{{ohm = {ohm:.1f}}}" for ohm in stages) + "]",
    ]
    if source.stages:
        first = source.stages[0]
        above = first.above_v if first.above_v is not None else source.voc_v * 0.98
        lines += [f"switch_down_v = {first.below_v:.3f}", f"switch_up_v = {above:.3f}"]
    return "\n".join(lines) + "\n"


def _refuse_too_few(open_v: float | None, pairs: list[tuple[float, float]]) -> None:
    """A source has two unknowns: two loads, or one beside the open voltage."""
    if len(pairs) < (1 if open_v is not None else 2):
        raise Misuse(
            Remark(
                "too_few_readings",
                "module measure",
                "--open V and one --load OHM:V, or two loads",
                "no load" if not pairs else f"{len(pairs)} without an open reading",
                "put another resistor across the pins and read the volts",
            )
        )


def measure(
    open_v: float | None = None,
    loads: list[str] | None = None,
    volt_error: float = 0.01,
    ohm_error: float = 1.0,
    listen_only: bool = False,
    expected_v: float = 5.0,
    expected_ohm: float | None = None,
    out: str | None = None,
) -> MeasureResult:
    """Thevenin source from meter readings; figures are given even where standing in is refused."""
    pairs = [_load(text) for text in loads or []]
    _refuse_too_few(open_v, pairs)
    result = thevenin(
        open_v, pairs, volt_error_v=volt_error, ohm_error_pct=ohm_error,
        expected=Expected(expected_v, expected_ohm),
    )  # fmt: skip
    source = result.source
    written = None
    if out and (listen_only or not result.refusals):
        written = write_text(Path(out), module_text(source, Path(out).stem))
    refusals, warnings = list(result.refusals), list(result.warnings)
    if listen_only:
        refusals, warnings = [], [*refusals, *warnings]
    return MeasureResult(
        voc_v=source.voc_v, rth_ohm=source.rth_ohm, u_voc_v=source.u_voc_v,
        u_rth_ohm=source.u_rth_ohm, two_stage=result.two_stage,
        stages=[{"rth_ohm": s.rth_ohm, "below_v": s.below_v} for s in source.stages],
        best_load_ohm=result.best_load_ohm,
        loads=[vars(load) for load in result.loads], refusals=refusals, warnings=warnings,
        out=written, listen_only=listen_only,
    )  # fmt: skip
