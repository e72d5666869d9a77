"""What a checkup looks at, and one thing looked at; tests put their own surroundings in."""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from locum import locations
from locum.bodies.pace import Reached
from locum.link import ports as port_list
from locum.link.boot_drive import BootDrive, boot_drives


@dataclass(frozen=True)
class Check:
    """One thing looked at."""

    name: str
    passed: bool
    detail: str
    """What was found; when it did not pass, what to do, as a command where there is one."""


@dataclass
class Surroundings:
    """What the checks look at; tests put their own in."""

    ports: Callable[[], list[port_list.Port]] = port_list.list_ports
    boot_drives: Callable[[], list[BootDrive]] = boot_drives
    opener: port_list.Opener = port_list.open_serial
    environment: Mapping[str, str] = field(default_factory=lambda: os.environ)
    encoding: str = field(default_factory=lambda: getattr(sys.stdout, "encoding", "") or "")
    free_bytes: Callable[[Path], int] = lambda path: shutil.disk_usage(path).free
    data_folder: Callable[[], Path] = locations.data_folder
    pi_pace: Callable[[dict[str, Any]], Reached] = lambda sheet: _pi_pace(sheet)
    modules: Callable[[str], bool] = lambda name: importlib.util.find_spec(name) is not None
    system: str = sys.platform


def _pi_pace(sheet: dict[str, Any]) -> Reached:
    from locum.bodies.pi import reached_here

    return reached_here(sheet)
