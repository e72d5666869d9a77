"""The bill of materials: one row per part that is bought alike, with what to take instead."""

from __future__ import annotations

import csv
import io

from .model import Circuit, Part

COLUMNS = (
    "references", "quantity", "value", "description", "tolerance", "rating", "package",
    "maker_part_number", "alternatives", "source_of_figures", "rests_on_memory", "price_eur_each",
)  # fmt: skip


def rows(circuit: Circuit) -> list[dict[str, str]]:
    """Rows in the order of first use. Prices are one-piece prices from memory, in euro."""
    groups: dict[tuple, list[Part]] = {}
    for part in circuit.parts.values():
        if part.fitted:
            groups.setdefault((part.kind.name, part.value, part.maker_number), []).append(part)
    return [_row(parts) for parts in groups.values()]


def _row(parts: list[Part]) -> dict[str, str]:
    first = parts[0]
    kind = first.kind
    return {
        "references": " ".join(part.ref for part in parts),
        "quantity": str(len(parts)),
        "value": first.value,
        "description": kind.title,
        "tolerance": first.tolerance or kind.tolerance or "-",
        "rating": first.rating or kind.rating or "-",
        "package": kind.package,
        "maker_part_number": first.maker_number or kind.maker_number or "any",
        "alternatives": kind.alternatives or "-",
        "source_of_figures": kind.source,
        "rests_on_memory": kind.doubt or "-",
        "price_eur_each": f"{kind.price_eur:.2f}",
    }


def as_csv(circuit: Circuit) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows(circuit))
    return out.getvalue()


def cost_eur(circuit: Circuit) -> float:
    """Sum of the one-piece prices, without board, case, wire and leads."""
    return sum(part.kind.price_eur for part in circuit.parts.values() if part.fitted)
