"""Where things are: bundled assets, the workshop's own folder, the casebook, the log."""

from __future__ import annotations

import importlib.resources
from pathlib import Path

import platformdirs

APPLICATION = "locum"


def asset_root(kind: str) -> Path:
    """Folder of shipped data, in the wheel or in a checkout.

    ``kind`` is a path below the project's root such as ``profiles``, ``hardware/boards`` or
    ``firmware_micropython``. Raises ``FileNotFoundError`` if neither place has it.
    """
    package = Path(str(importlib.resources.files("locum")))
    bundled = package / "_bundled" / kind
    if bundled.is_dir():
        return bundled
    checkout = package.parent.parent / kind
    if checkout.is_dir():
        return checkout
    raise FileNotFoundError(f"shipped data '{kind}' is missing from this installation")


def data_folder() -> Path:
    """The folder that holds casebook, calibrations and log; made when first asked for."""
    path = platformdirs.user_data_path(APPLICATION, appauthor=False)
    path.mkdir(parents=True, exist_ok=True)
    return path


def casebook_path() -> Path:
    return data_folder() / "casebook.sqlite"


def workshop_sheets() -> Path:
    """The workshop's own sheets: subfolders sensors, modules, vehicles, boards, temperature."""
    return data_folder() / "sheets"


def settings_path() -> Path:
    return platformdirs.user_config_path(APPLICATION, appauthor=False) / "settings.toml"


def log_path() -> Path:
    return data_folder() / "locum.log"
