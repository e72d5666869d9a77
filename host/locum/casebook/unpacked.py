"""An exported case as it lies there, a folder or a zip: files read by name, nothing is unpacked."""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO

from locum.errors import FileTrouble, Refused, Remark

LARGEST_EXPORT = 4 * 2**30
"""Unpacked. A zip that claims more is more likely made to fill a disk than a case."""


@dataclass(frozen=True)
class Unpacked:
    """Files of an export by their names inside it."""

    names: frozenset[str]
    open: Callable[[str], IO[bytes]]

    def read(self, name: str) -> bytes:
        with self.open(name) as file:
            return file.read()

    def sha256(self, name: str) -> str:
        """SHA-256 of a file, read a piece at a time; empty if it cannot be read."""
        total = hashlib.sha256()
        try:
            with self.open(name) as file:
                while piece := file.read(2**20):
                    total.update(piece)
        except (OSError, zipfile.BadZipFile, zlib.error, EOFError):
            return ""
        return total.hexdigest()


def opened(path: Path) -> Unpacked:
    """The files of a folder or a zip; one folder around everything in a zip is passed over.

    Raises FileTrouble if it is neither, Refused if it is too large.
    """
    try:
        if path.is_dir():
            names = frozenset(
                p.relative_to(path).as_posix() for p in path.rglob("*") if p.is_file()
            )
            return Unpacked(names, lambda name: (path / name).open("rb"))
        archive = zipfile.ZipFile(path)
    except (OSError, zipfile.BadZipFile) as error:
        raise FileTrouble(
            Remark(
                "export_unreadable",
                str(path),
                "an exported case, a folder or a zip",
                getattr(error, "strerror", None) or str(error),
                "check the path",
            )
        ) from error
    entries = [entry for entry in archive.infolist() if not entry.is_dir()]
    if sum(entry.file_size for entry in entries) > LARGEST_EXPORT:
        raise Refused(
            Remark(
                "export_too_large",
                str(path),
                f"at most {LARGEST_EXPORT // 2**30} GB unpacked",
                "more",
                "unpack it by hand and import the folder",
            )
        )
    tops = {PurePosixPath(entry.filename).parts[0] for entry in entries}
    inside = len(tops) == 1 and not any(entry.filename == "case.json" for entry in entries)
    top = tops.pop() + "/" if inside else ""
    inner = frozenset(entry.filename[len(top) :] for entry in entries)
    return Unpacked(inner, lambda name: archive.open(top + name))
