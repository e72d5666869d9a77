"""Writing files whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from locum.errors import FileTrouble, Remark


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
