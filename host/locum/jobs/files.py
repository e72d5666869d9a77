"""Files whole or not at all, and whether there is one at all."""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path

from locum.errors import FileTrouble, Remark


def is_there(name: str | Path) -> bool:
    """Whether something is at this path; a name that no system takes, or a folder that nobody may look
    into, is no trouble but a no."""
    return os.path.exists(name)


def is_file(name: str | Path) -> bool:
    """Whether a file is there, as :func:`is_there`."""
    return os.path.isfile(name)


def is_folder(name: str | Path) -> bool:
    """Whether a folder is there, as :func:`is_there`."""
    return os.path.isdir(name)


def disk_trouble(error: OSError) -> FileTrouble:
    """What the system says about a file or a disk that nobody closer to it has put into words."""
    where = os.fsdecode(error.filename) if error.filename else "casebook"
    remedy = "check the path, or name another"
    if error.errno == errno.ENOSPC:
        remedy = "make room on that disk"
    remedy += "; what was recorded until then is kept"
    reason = error.strerror or str(error)
    return FileTrouble(Remark("file", where[:200], "to read or write it", reason, remedy))


def write_bytes(path: Path, data: bytes) -> str:
    """Write beside, then rename: the file is the old one or the new one, never half. Absolute path."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            # mkstemp makes it private; a report or sheet is meant to be handed on.
            os.chmod(name, 0o644)
            os.replace(name, path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise FileTrouble(
            Remark("not_written", str(path), "to write it", reason, "choose another place")
        ) from None
    return str(path.resolve())


def write_text(path: Path, text: str) -> str:
    return write_bytes(path, text.encode("utf-8"))
