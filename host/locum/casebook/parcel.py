"""Files on their way out: written one after another, summed as they pass, never held in memory.

The folder grows beside its place and is moved there at the end, so that it appears whole or not at
all, as does the zip beside it.
"""

from __future__ import annotations

import hashlib
import io
import os
import shutil
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, TextIO

from locum.errors import FileTrouble, Remark


class Parcel:
    """A folder that is being filled; names are POSIX paths inside it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.sums: dict[str, str] = {}
        """Name to SHA-256 of every file that is complete."""

    @contextmanager
    def file(self, name: str) -> Iterator[BinaryIO]:
        """A new file to write bytes into; it is summed when it is closed."""
        place = self.folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        with _Summed(place) as raw, io.BufferedWriter(raw) as out:
            yield out
        self.sums[name] = raw.sha256.hexdigest()

    @contextmanager
    def text(self, name: str) -> Iterator[TextIO]:
        """A new file to write text into: UTF-8, line ends as they are given."""
        with self.file(name) as out, io.TextIOWrapper(out, encoding="utf-8", newline="") as words:
            yield words

    def add(self, name: str, data: bytes) -> None:
        """A whole file at once."""
        with self.file(name) as out:
            out.write(data)

    def drop(self, name: str) -> None:
        """Take a file out again, complete or not."""
        (self.folder / name).unlink(missing_ok=True)
        self.sums.pop(name, None)


class _Summed(io.RawIOBase):
    """A file that keeps the SHA-256 of what goes through it."""

    def __init__(self, place: Path) -> None:
        self.sha256 = hashlib.sha256()
        self.out = place.open("wb", buffering=0)

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        count = self.out.write(data)
        self.sha256.update(memoryview(data)[:count])
        return count

    def close(self) -> None:
        self.out.close()
        super().close()


@contextmanager
def sent(name: str, folder: Path | None = None, archive: Path | None = None) -> Iterator[Parcel]:
    """A parcel that becomes ``folder``, or the zip ``archive`` with everything below ``name``, or
    both, when the block ends well.

    Raises
    ------
    FileTrouble
        If something is there already, or the disk will not take it; nothing is left behind.
    """
    places = [place for place in (folder, archive) if place is not None]
    _need_room(places)
    waiting = places[0].parent / f".{name}.part"
    try:
        shutil.rmtree(waiting, ignore_errors=True)
        parcel = Parcel(waiting / "folder")
        yield parcel
        if archive is not None:
            _write_zip(waiting / "zip", name, parcel)
            os.replace(waiting / "zip", archive)
        if folder is not None:
            if folder.exists():
                folder.rmdir()  # empty, or it would have been refused
            os.replace(waiting / "folder", folder)
    except FileTrouble:  # of ours, and already a sentence
        raise
    except OSError as error:
        raise FileTrouble(
            Remark(
                "export_failed",
                str(places[0]),
                "to write the export",
                error.strerror or str(error),
                "free some space or choose another folder; nothing was left behind",
            )
        ) from error
    finally:
        shutil.rmtree(waiting, ignore_errors=True)


def _need_room(places: list[Path]) -> None:
    for place in places:
        empty = place.is_dir() and not any(place.iterdir())
        if place.exists() and not empty:
            raise FileTrouble(
                Remark(
                    "export_exists",
                    str(place),
                    "a new place for the export",
                    "something of that name",
                    "move it away or choose another folder; nothing was replaced",
                )
            )


def _write_zip(path: Path, name: str, parcel: Parcel) -> None:
    """The same files always give the same zip: no times in it."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for inner in sorted(parcel.sums):
            place = parcel.folder / inner
            entry = zipfile.ZipInfo(f"{name}/{inner}", (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            entry.file_size = place.stat().st_size  # so that it knows when 64 bits are needed
            with place.open("rb") as source, archive.open(entry, "w") as out:
                shutil.copyfileobj(source, out, 2**20)
