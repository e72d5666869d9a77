"""The checkup's bundle: what was found and the program's log, packed for somebody who helps.

Names of people, of this computer and of folders below the user's home are taken out first.
"""

from __future__ import annotations

import getpass
import json
import re
import socket
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from locum import locations
from locum.errors import FileTrouble, Remark

if TYPE_CHECKING:
    from locum.jobs.checkup_look import Check


def without_identity(text: str) -> str:
    """``text`` without user and host names, the home folder, VINs, plates in cases, or addresses."""
    text = re.sub(r"[\w.+-]+@[\w-]+\.[\w.]+", "<address>", text)
    home = str(Path.home())
    if len(home) > 1:
        text = text.replace(home, "~")
    for name, mark in ((_user(), "<user>"), (socket.gethostname(), "<computer>")):
        if len(name) > 2:
            text = re.sub(rf"\b{re.escape(name)}\b", mark, text)
    return re.sub(r"\b[A-HJ-NPR-Z0-9]{17}\b", "<vin>", text)


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return ""


def pack(target: Path, checks: Sequence[Check]) -> str:
    """Write the bundle; its absolute path. Raises FileTrouble."""
    rows = json.dumps([vars(check) for check in checks], ensure_ascii=False, indent=1)
    try:
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("checks.json", without_identity(rows))
            log = locations.log_path()
            for path in sorted(log.parent.glob(log.name + "*")):
                archive.writestr(path.name, without_identity(path.read_text("utf-8", "replace")))
    except OSError as error:
        raise FileTrouble(
            Remark(
                "bundle",
                str(target),
                "a file to pack into",
                error.strerror or str(error),
                "name a file in a folder that can be written",
            )
        ) from error
    return str(target.resolve())
