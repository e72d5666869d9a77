"""The stand-in's resistor network: wipers that can leave, switched hot branches, one series part.

The usual network is "side by side": every wiper and every hot branch hangs between one net and
ground, and one series resistance leads to the module's line. There conductances add, which is what
:mod:`locum.physics.choose` makes use of. Any other tree is allowed by the sheet's ``layout``.

Hot branches are bits: bit 0 of ``hot`` is the first ``[[network.hot]]`` of the sheet.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.layout import Element, Leaf, Parallel, Series, parse_layout
from locum.physics.wiper import HotBranch, Wiper, frozen, wiper_of

__all__ = ["HotBranch", "Network", "Wiper"]

if TYPE_CHECKING:
    from locum.physics.calibration import Calibration


@dataclass(frozen=True, eq=False)
class Network:
    """Everything that decides what ohms a set of codes gives."""

    wipers: tuple[Wiper, ...]
    hot: tuple[HotBranch, ...] = ()
    series_ohm: float = 0.0
    plan_wiper_a: float = 1.4e-3
    """What a plan lets one wiper carry where it has a choice. [A]"""
    reach_ohm: tuple[float, float] = (0.0, np.inf)
    """Lowest and highest resistance that plans may ask for. [ohm]"""
    max_voc_v: float = 5.3
    layout: Element | None = None
    """Tree of the network; None is the usual one, everything side by side."""
    board_id: str = ""
    calibration_id: str = ""
    """Which calibration the tables come from; empty for nominal values."""

    @classmethod
    def from_board(cls, sheet: dict[str, Any]) -> Network:
        """Nominal network of a board sheet (parsed TOML, already checked).

        Use :func:`locum.sheets.board.read_board` to read and check one.
        """
        part = sheet["network"]
        limits = sheet.get("limits", {})
        supply_v = float(sheet.get("ohmmeter", {}).get("supply_v", limits.get("max_voc_v", 5.3)))
        tree = parse_layout(part["layout"]) if "layout" in part else None
        network = cls(
            wipers=tuple(wiper_of(row, limits, supply_v) for row in part["wiper"]),
            hot=tuple(
                HotBranch(row["name"], float(row["ohm"]) + float(row.get("switch_ohm", 0.0)))
                for row in part.get("hot", [])
            ),
            series_ohm=float(part.get("series_ohm", 0.0)),
            plan_wiper_a=1e-3 * float(limits.get("plan_wiper_ma", 1.4)),
            reach_ohm=(
                float(limits.get("reach_low_ohm", 0.0)),
                float(limits.get("reach_high_ohm", np.inf)),
            ),
            max_voc_v=float(limits.get("max_voc_v", 5.3)),
            layout=tree,
            board_id=str(sheet.get("id", "")),
        )
        if tree is not None and network._is_usual(tree):
            return replace(network, layout=None)
        return network

    def calibrated(self, calibration: Calibration) -> Network:
        """The same network with a board's own tables, series and hot values, and wiper law.

        Raises :class:`~locum.errors.Refused` for a calibration of other wipers or hot branches.
        """
        self._refuse_others(calibration)
        hot = tuple(
            replace(branch, ohm=float(ohm))
            for branch, ohm in zip(self.hot, calibration.hot_ohm, strict=True)
        )
        return replace(
            self,
            wipers=self._calibrated_wipers(calibration),
            hot=hot,
            series_ohm=float(calibration.series_ohm),
            calibration_id=calibration.calibration_id,
        )

    def _refuse_others(self, calibration: Calibration) -> None:
        own = [len(wiper.table_ohm) for wiper in self.wipers], len(self.hot)
        its = [len(table) for table in calibration.table_ohm], len(calibration.hot_ohm)
        if own != its:
            raise Refused(
                Remark(
                    "other_network",
                    "calibration",
                    f"one of this board sheet's {len(own[0])} wipers and {own[1]} hot branches",
                    f"one of {len(its[0])} wipers and {its[1]} hot branches",
                    "name the board sheet it was made with, or calibrate again",
                )
            )

    def _calibrated_wipers(self, calibration: Calibration) -> tuple[Wiper, ...]:
        """Each wiper with its own table, law and leakage."""
        return tuple(
            replace(
                wiper,
                table_ohm=frozen(table),
                law_ohm=float(law),
                law_supply_v=calibration.law_supply_v,
                knots_v=tuple(float(v) for v in calibration.law_knots_v),
                knots_ohm=tuple(float(ohm) for ohm in knots),
                out_siemens=float(leak),
            )
            for wiper, table, law, knots, leak in zip(
                self.wipers,
                calibration.table_ohm,
                calibration.law_ohm,
                calibration.law_knots_ohm,
                calibration.out_siemens,
                strict=True,
            )
        )

    @property
    def side_by_side(self) -> bool:
        """True for the usual network, where conductances add."""
        return self.layout is None

    @cached_property
    def hot_siemens(self) -> np.ndarray:
        """Conductance of every combination of hot branches, index = bits. [S]"""
        bits = np.arange(1 << len(self.hot))
        total = np.zeros(len(bits))
        for index, branch in enumerate(self.hot):
            total += ((bits >> index) & 1) / branch.ohm
        return total

    @cached_property
    def network_id(self) -> str:
        """First 16 hex digits of the SHA-256 of everything that decides the ohms."""
        digest = hashlib.sha256()
        for wiper in self.wipers:
            law = (wiper.law_ohm, wiper.law_supply_v, wiper.knots_ohm, wiper.out_siemens)
            digest.update(f"{wiper.name}|{law!r}".encode())
            digest.update(np.ascontiguousarray(wiper.table_ohm, "<f8").tobytes())
        for branch in self.hot:
            digest.update(f"|{branch.name}|{branch.ohm!r}".encode())
        digest.update(f"|{self.series_ohm!r}|{self.layout!r}".encode())
        return digest.hexdigest()[:16]

    def wiper_ohm(self, codes, out, net_v: Any = 0.0) -> np.ndarray:
        """Resistance of each wiper; infinite (or its leakage) where it left.

        Parameters
        ----------
        codes : int array [..., wipers]
        out : bool array [..., wipers]
        net_v : float or array [...]
            Voltage on the wipers. [V]

        Returns
        -------
        float array [..., wipers] [ohm]
        """
        codes, out = np.broadcast_arrays(np.asarray(codes), np.asarray(out, bool))
        ohm = np.empty(codes.shape)
        for index, wiper in enumerate(self.wipers):
            ohm[..., index] = wiper.table_ohm[codes[..., index]] + wiper.grown_ohm(net_v)
        with np.errstate(divide="ignore"):
            gone = 1.0 / np.array([wiper.out_siemens for wiper in self.wipers])
        return np.where(out, gone, ohm)

    def resistance_ohm(self, codes, out: Any = False, hot: Any = 0, net_v: Any = 0.0) -> np.ndarray:
        """What the module's line sees, series part included; infinite if nothing is in.

        ``codes`` int [..., wipers], ``out`` bool of the same shape, ``hot`` int [...] bits,
        ``net_v`` the voltage on the wipers [V]. Returns float [...] [ohm].
        """
        return self.layout_ohm(self.wiper_ohm(codes, out, net_v), hot)

    def wiper_a(self, codes, out, hot, line_a, net_v: Any = 0.0) -> np.ndarray:
        """Current of each wiper when the line delivers ``line_a`` [A]; float [..., wipers]."""
        wipers = self.wiper_ohm(codes, out, net_v)
        hot = np.asarray(hot, int)
        if self.layout is None:
            siemens = 1.0 / wipers
            total = siemens.sum(axis=-1) + self.hot_siemens[hot]
            with np.errstate(invalid="ignore", divide="ignore"):
                share = siemens / total[..., None]
            return np.nan_to_num(share) * np.asarray(line_a)[..., None]
        into: dict[str, np.ndarray] = {}
        self.layout.share(self._leaves(wipers, hot), np.asarray(line_a, float), into)
        return np.stack([into[wiper.name] for wiper in self.wipers], axis=-1)

    def layout_ohm(self, wiper_ohm: np.ndarray, hot) -> np.ndarray:
        """As :meth:`resistance_ohm`, from the resistances [..., wipers] of the wipers. [ohm]"""
        hot = np.asarray(hot, int)
        if self.layout is not None:
            return self.layout.ohm(self._leaves(wiper_ohm, hot))
        with np.errstate(divide="ignore"):
            return self.series_ohm + 1.0 / ((1.0 / wiper_ohm).sum(axis=-1) + self.hot_siemens[hot])

    def _leaves(self, wipers: np.ndarray, hot: np.ndarray) -> dict[str, np.ndarray]:
        leaves = {wiper.name: wipers[..., i] for i, wiper in enumerate(self.wipers)}
        for index, branch in enumerate(self.hot):
            leaves[branch.name] = np.where((hot >> index) & 1, branch.ohm, np.inf)
        leaves["R0"] = np.asarray(self.series_ohm)
        return leaves

    def _is_usual(self, tree: Element) -> bool:
        """True if the tree is R0 in series with every wiper and hot branch side by side."""
        if isinstance(tree, Parallel | Leaf):
            inner, lead = tree, []
        elif isinstance(tree, Series) and len(tree.parts) == 2:
            lead = [p for p in tree.parts if p == Leaf("R0")]
            rest = [p for p in tree.parts if p != Leaf("R0")]
            inner = rest[0] if rest else tree
        else:
            return False
        if bool(lead) != bool(self.series_ohm):
            return False
        parts = inner.parts if isinstance(inner, Parallel) else (inner,)
        names = {part.name for part in parts if isinstance(part, Leaf)}
        every = {w.name for w in self.wipers} | {b.name for b in self.hot}
        return names == every and len(parts) == len(every)
