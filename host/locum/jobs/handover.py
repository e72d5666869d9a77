"""What comes after the work: hand-back list, follow-up calls, the owner's data, closing."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from locum.casebook.records import HAND_BACK_ITEMS, IDENTITY_FIELDS
from locum.errors import Misuse, Remark
from locum.jobs.cases import Document, author_of, kept_casebook
from locum.jobs.likeness import put_signature
from locum.jobs.possible_codes import possible_codes


def hand_back(
    id: str,
    item: str | None = None,
    undo: bool = False,
    note: str = "",
    author: str = "",
    casebook: str | None = None,
) -> Document:
    """Tick one line of the hand-back list, or only show it."""
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        if item is None and (undo or note):
            wanted = "the line to tick: " + ", ".join(HAND_BACK_ITEMS)
            raise Misuse(Remark("hand_back_item", "hand-back", wanted, "none", "name it"))
        if item is not None:
            store.tick_hand_back(
                case_id, item.replace("-", "_"), done=not undo, author=author_of(author), note=note
            )
        rows = [asdict(row) for row in store.hand_back(case_id)]
        return Document({"case": case_id, "hand_back": rows, "all_done": all(r["done"] for r in rows),
                         "codes_possible": possible_codes(store, case_id)})  # fmt: skip


def follow_up(
    id: str,
    hours: float,
    kick_outs: int,
    not_counted: bool = False,
    note: str = "",
    author: str = "",
    casebook: str | None = None,
) -> Document:
    """Add what the customer told on a call; the page then counts it."""
    from locum.jobs.case_numbers import quiet_facts
    from locum.jobs.evidence import case_evidence

    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        finding = store.add_follow_up(
            case_id, hours, kick_outs, counts=not not_counted, author=author_of(author), note=note
        )
        told = store.followed_up(case_id)
        quiet = quiet_facts(case_evidence(store, case_id), store, case_id)
        return Document(
            {"case": case_id, "finding": finding, "followed_up": asdict(told),
             "quiet": None if quiet is None else asdict(quiet)}
        )  # fmt: skip


def identity_show(id: str, casebook: str | None = None) -> Document:
    """Who the vehicle belongs to; the only verb that prints it."""
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        return Document({"case": case_id, "identity": store.identity(case_id)})


def identity_set(id: str, fields: list[str], casebook: str | None = None) -> Document:
    """Keep the owner's data apart from the case; ``FIELD=`` takes one back."""
    faults, values = [], {}
    for pair in fields:
        field, equals, value = pair.partition("=")
        field = field.strip().lower()
        if not equals or field not in IDENTITY_FIELDS:
            wanted = "FIELD=VALUE with a field of " + ", ".join(IDENTITY_FIELDS)
            faults.append(Remark("identity_field", "identity set", wanted, f"'{pair}'", "write it so"))  # fmt: skip
        values[field] = value.strip()
    if faults:
        raise Misuse(faults)
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        store.set_identity(case_id, values)
        kept = sorted(store.identity(case_id))
        return Document({"case": case_id, "fields_kept": kept})


def identity_erase(id: str, author: str = "", casebook: str | None = None) -> Document:
    """Take the owner's data out for good; the technical case stays whole."""
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        count = store.erase_identity(case_id, author=author_of(author))
        note = Remark(
            "copies_keep_it", "identity erase", "the owner's data gone everywhere",
            "backups and exports made earlier are other files and keep what they hold",
            "erase those as well",
        )  # fmt: skip
        return Document({"case": case_id, "erased": count, "warnings": [note]})


def close(id: str, why: str = "", author: str = "", casebook: str | None = None) -> Document:
    """Close a case; its signature is kept first, so that later cases can be compared with it."""
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        found = put_signature(store, case_id)
        store.close_case(case_id, author=author_of(author), why=why)
        open_lines = [row.words for row in store.hand_back(case_id) if not row.done]
        warnings = []
        if open_lines:
            warnings.append(Remark("hand_back_open", "hand-back", "every line ticked",
                                   "not yet: " + "; ".join(open_lines), "see `locum case hand-back`"))  # fmt: skip
        body: dict[str, Any] = {"case": case_id, "closed": store.case(case_id).closed_utc,
                                "signature": found, "warnings": warnings}  # fmt: skip
        return Document(body)


def reopen(
    id: str, why: str = "", see: str = "", author: str = "", casebook: str | None = None
) -> Document:
    """Open a case again, as after a comeback; ``see`` links another case."""
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        other = store.case_id_from(see) if see else ""
        finding = store.reopen_case(case_id, author=author_of(author), why=why, see=other)
        return Document({"case": case_id, "finding": finding, "see": other})
