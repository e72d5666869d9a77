"""``locum find`` and ``locum firmware put``."""

from __future__ import annotations

from locum.jobs.cases import Document
from locum.jobs.jsontext import plain_json


def find() -> Document:
    """Boards that answer, and ports that look like one but do not."""
    from locum.link.ports import find_boards

    return Document({"boards": [plain_json(board) for board in find_boards()]})


def put_firmware(port: str | None = None) -> Document:
    """Write the firmware, verify it, and keep the old one until the new one answers."""
    from locum.link.upload import put_firmware as put

    return Document(plain_json(put(port)))
