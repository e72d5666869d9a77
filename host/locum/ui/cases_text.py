"""Cases told as rows of text: the same for the screens and line by line."""

from __future__ import annotations

from locum.jobs.cases_view import CaseLook, CaseRow, DriveRow
from locum.ui import words


def case_line(row: CaseRow, in_use: bool) -> str:
    tail = f"   {row.snippet}" if row.snippet else ""
    count = "1 recording" if row.drives == 1 else f"{row.drives} recordings"
    return f"{'*' if in_use else ' '} {row.opened}  {row.title}  ({count}){tail}"


def drive_line(row: DriveRow) -> str:
    kind = words.DRIVE.get(row.kind, row.kind)
    if row.minutes is None:
        return f"{row.started}  {kind}, recording now"
    kicks = "" if row.kick_outs is None else f", kick-outs {row.kick_outs}"
    return f"{row.started}  {kind}, {row.minutes:.0f} min{kicks}"


def look_text(look: CaseLook) -> str:
    """A case in short: complaint, recordings, what was noted."""
    lines = [look.title]
    if look.complaint:
        lines.append(f"complaint: {look.complaint}")
    lines += [f"  {drive_line(row)}" for row in look.drives] or ["  no recordings yet"]
    lines += [
        f"  {date}  {words.FINDING.get(kind, kind)}: {told}" for date, kind, told in look.findings
    ]
    return "\n".join(lines)
