"""The limits of the rules, written down beforehand, and what a rule hands on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from locum.verdict.finding import Number


@dataclass(frozen=True)
class Limits:
    """Limits of the rules."""

    link_p: float = 1e-3
    """Coincidence with glitches, brake pulses or shifts of the return wire."""
    link_share: float = 0.4
    """Share of kick-outs that must be linked for a cause to carry the complaint."""
    link_least: int = 3
    arms_p: float = 0.002
    """Real sensor against stand-in, with no glitch to explain it."""
    arms_backed_p: float = 0.03
    """The same when glitches, or the sensor's hot ohms, point the same way."""
    sufficient_share: float = 0.8
    """Share of kick-outs linked, and of long enough injections answered, that carries the circuit
    before a masked glitch was heard."""
    innocent_share: float = 0.1
    """A part that causes no more of the kick-outs is not the complaint's."""
    share_p: float = 0.002
    """The circuit's share of kick-outs, made and masked, against that."""
    mask_p: float = 0.01
    """Glitches followed unmasked against masked."""
    on_margin: float = 0.3
    """"It goes on": more than this share of the real sensor's rate remains under the stand-in."""
    on_p: float = 0.01
    on_least: int = 4
    felt_p: float = 0.003
    """Felt without a command, against imagined presses."""
    felt_and_quiet_p: float = 0.0005
    """The same times the chance that the fault's own kick-outs stayed away, at the least rate the
    account allows."""
    imagined_per_h: float = 0.25
    """Expected before any drive, known to within a factor of four or so."""
    normal_p: float = 0.03
    """What is felt of the driver's own acts, foot still against normal driving."""
    own_least: int = 8
    """Own acts felt."""
    unexplained_share: float = 0.3
    """Presses that no act explains, to those that one does: some are imagined."""
    told_share: float = 0.5
    """Own acts felt, to the least rate the account allows."""
    quiet_guilty_p: float = 0.004
    """Quiet since the sensor's plug was touched, the circuit being guilty already. Quiet alone
    blames nobody: any contact may fall asleep by being moved."""
    near_p: float = 0.05
    """Kick-outs that follow glitches of whatever length speak against a slow error alone."""
    place_least: int = 2
    """Long glitches under the mask that tell on which side of the tap they are."""
    place_p: float = 0.03
    """The same without an ohmmeter: glitches with the real sensor, none under the stand-in."""
    carried_share: float = 0.1
    """Kick-outs seen, to the least number the account allows."""
    shown_p: float = 0.01
    """Chance that a fault at the least rate the account allows showed no more often."""


@dataclass
class Conclusion:
    """What a rule says, with the numbers it rests on."""

    name: str = "undecided"
    p_value: float = math.nan
    convention: str = ""
    why: str = ""
    numbers: list[Number] = field(default_factory=list)
