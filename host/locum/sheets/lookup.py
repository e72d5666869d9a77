"""Finding a sheet by path or by name.

Order: a path, the copy kept with the case, the workshop's own folder, the shipped ones. A name
that stands in the workshop's folder and among the shipped sheets is refused rather than guessed,
for the two could differ by a digit.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from locum.errors import FileTrouble, Refused, Remark
from locum.locations import asset_root, workshop_sheets

KINDS = {
    "sensor": ("profiles/sensors", "sensors", (".toml",)),
    "module": ("profiles/modules", "modules", (".toml",)),
    "vehicle": ("profiles/vehicles", "vehicles", (".toml",)),
    "board": ("hardware/boards", "boards", (".toml",)),
    "profile": ("profiles/temperature", "temperature", (".toml", ".csv")),
}
"""Kind of sheet -> shipped folder, workshop's subfolder, endings."""


@dataclass(frozen=True)
class FoundSheet:
    """A sheet's text and where it came from."""

    kind: str
    name: str
    """The stem of the file."""
    text: str
    origin: str
    """``path``, ``case``, ``workshop`` or ``shipped``."""
    path: Path | None = None

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.text.encode()).hexdigest()


def read_text(path: Path) -> str:
    """The file's text, UTF-8 with or without a mark; FileTrouble in plain words otherwise."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise FileTrouble(
            Remark("no_such_file", str(path), "a file", "none of that name", "check the spelling")
        ) from None
    except UnicodeDecodeError:
        raise FileTrouble(
            Remark("not_text", str(path), "UTF-8 text", "other bytes", "save it again as UTF-8")
        ) from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise FileTrouble(
            Remark("unreadable", str(path), "to read it", reason, "check the file's permissions")
        ) from None


def _in_folder(folder: Path, endings: tuple[str, ...]) -> dict[str, Path]:
    if not folder.is_dir():
        return {}
    return {p.stem: p for p in sorted(folder.iterdir()) if p.suffix in endings}


def sheet_names(kind: str) -> dict[str, str]:
    """All names of that kind -> ``workshop`` or ``shipped``."""
    shipped, subfolder, endings = KINDS[kind]
    names = {name: "shipped" for name in _in_folder(asset_root(shipped), endings)}
    names |= {name: "workshop" for name in _in_folder(workshop_sheets() / subfolder, endings)}
    return names


def _looks_like_path(name: str, endings: tuple[str, ...]) -> bool:
    return "/" in name or "\\" in name or name.endswith(endings)


def find_sheet(kind: str, name: str, case_sheets: Mapping[str, str] | None = None) -> FoundSheet:
    """The sheet of that kind, or Refused / FileTrouble saying what was looked through."""
    shipped_folder, subfolder, endings = KINDS[kind]
    if _looks_like_path(name, endings) or Path(name).is_file():
        path = Path(name)
        return FoundSheet(kind, path.stem, read_text(path), "path", path)
    if case_sheets and name in case_sheets:
        return FoundSheet(kind, name, case_sheets[name], "case")
    own = _in_folder(workshop_sheets() / subfolder, endings)
    shipped = _in_folder(asset_root(shipped_folder), endings)
    if name in own and name in shipped:
        raise Refused(
            Remark(
                "name_twice",
                f"{kind} '{name}'",
                "one sheet of that name",
                "one in the workshop's folder and one shipped",
                "rename yours or give its path",
            )  # fmt: skip
        )
    if name in own:
        return FoundSheet(kind, name, read_text(own[name]), "workshop", own[name])
    if name in shipped:
        return FoundSheet(kind, name, read_text(shipped[name]), "shipped", shipped[name])
    known: list[str] = sorted([*own, *shipped, *(case_sheets or {})])
    near = difflib.get_close_matches(name, known, n=1)
    hint = f"did you mean {near[0]}?" if near else "give a path, or one of: " + ", ".join(known)
    raise Refused(Remark("no_such_sheet", f"{kind} '{name}'", "a sheet", "none", hint))
