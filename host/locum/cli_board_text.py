"""Boards found and their firmware, told in words."""

from __future__ import annotations

from locum.cli_phrases import Whole

FITS = {
    "same": "the same: they fit",
    "behind": "older, but of the same protocol: they fit",
    "ahead": "newer, but of the same protocol: they fit",
    "too_old": "too old: it is not driven",
    "too_new": "of a newer protocol: it is not driven",
}
STATES = {"ready": "ready", "old": "too old", "newer": "of a newer protocol"}


def _found(d: dict) -> list[str]:
    if not d["boards"] and not d["boot_drives"]:
        return ["No board found."]
    lines = []
    for board in d["boards"]:
        if board["firmware"]:
            lines.append(
                f"{board['port']}: {board['model']} {board['serial_number']}, firmware "
                f"{board['firmware']}, {STATES[board['state']]}."
            )
        if board["remark"]:
            lines.append(board["remark"]["text"])
    return lines + [drive["remark"]["text"] for drive in d["boot_drives"]]


def _versions(d: dict) -> list[str]:
    program = d["program"]
    lines = [
        f"This program: locum {program['locum']}, carries firmware {program['firmware']}, "
        f"protocol {program['protocol']}."
    ]
    if not d["boards"]:
        lines.append("No board on a USB port to compare it with.")
    for board in d["boards"]:
        lines += _version(board)
    return lines


def _version(board: dict) -> list[str]:
    if board["fit"] == "none":
        return [board["remark"]["text"]]
    spoken = "none named" if board["protocol"] is None else str(board["protocol"])
    lines = [
        f"{board['port']}: {board['model']} {board['serial_number']} runs firmware "
        f"{board['firmware']}, protocol {spoken}; {FITS[board['fit']]}."
    ]
    return lines + ([Whole(board["remark"]["text"])] if board["remark"] else [])


FORMATTERS = {
    "boards:find": _found,
    "boards:firmware_versions": _versions,
}
