"""``locum settings``: what is set, what each key means, and a commented file to edit."""

from __future__ import annotations

import dataclasses

from locum.errors import FileTrouble, Remark
from locum.jobs.cases import Document
from locum.jobs.files import write_text
from locum.locations import settings_path
from locum.settings import Settings, commented_text, load_settings, meanings


def show(write: bool = False) -> Document:
    """Every setting as it stands; with ``write`` the file is made, never replaced."""
    path, settings, means, usual = settings_path(), load_settings(), meanings(), Settings()
    if write:
        if path.exists():
            raise FileTrouble(
                Remark("settings_exist", str(path), "to write a new file", "one that is there", "edit it")
            )  # fmt: skip
        write_text(path, commented_text(settings))
    rows = [
        {"key": item.name, "value": getattr(settings, item.name),
         "usual": getattr(usual, item.name), "means": means[item.name]}
        for item in dataclasses.fields(Settings)
    ]  # fmt: skip
    return Document({"path": str(path), "exists": path.exists(), "settings": rows})
