"""Cases told as rows of text: the same for the screens and line by line."""

from __future__ import annotations

from locum.jobs.cases_view import CaseLook, CaseRow, DriveRow
from locum.ui import words


def case_line(row: CaseRow, in_use: bool) -> str:
    tail = f"   {row.snippet}" if row.snippet else ""
    count = "1 recording" if row.drives == 1 else f"{row.drives} recordings"
    return f"{row.opened}  {row.title}  ({count}{', IN USE' if in_use else ''}){tail}"


def drive_line(row: DriveRow, running: str = "") -> str:
    """A recording; ``running`` is the one that is being made now."""
    kind = words.DRIVE.get(row.kind, row.kind)
    if row.minutes is None:
        now = row.id == running
        return (
            f"{row.started}  {kind}, {'recording now' if now else 'was not closed; kept as it is'}"
        )
    kicks = "" if row.kick_outs is None else f", kick-outs {row.kick_outs}"
    return f"{row.started}  {kind}, {row.minutes:.0f} min{kicks}"


def look_text(look: CaseLook, running: str = "") -> str:
    """A case in short: complaint, what was noted, recordings; of both the newest first."""
    lines = [look.title]
    if look.complaint:
        lines.append(f"complaint: {look.complaint}")
    lines += [
        f"  {date}  {words.FINDING.get(kind, kind.replace('_', ' '))}: {told}"
        for date, kind, told in reversed(look.findings)
    ]
    lines += [f"  {drive_line(row, running)}" for row in reversed(look.drives)] or [
        "  no recordings yet"
    ]
    return "\n".join(lines)
