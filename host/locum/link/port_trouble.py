"""Why a port does not open, in plain words, with the exact remedy for this very device."""

from __future__ import annotations

import errno
import os
import re
import sys

from locum.errors import Remark


def open_trouble(device: str, error: BaseException) -> Remark:
    """Why a port could not be opened or was lost, and what to do about it.

    ``error`` is whatever the serial library or the system raised. The exact remedy for a port
    without permission names the group that owns this very device.
    """
    number = _errno_of(error)
    text = str(error)
    where = device
    if number == errno.ENOENT or "FileNotFoundError" in text or "ENXIO" in text:
        return Remark(
            "port_gone",
            where,
            "a board on this port",
            "no such port any more",
            "plug the board in again and run 'locum find': its port may have a new name",
        )
    denied_is_busy = sys.platform.startswith("win")
    if number in (errno.EBUSY, errno.EAGAIN) or "lock" in text or (denied_is_busy and number == 13):
        return Remark(
            "port_busy",
            where,
            "the port for ourselves",
            "another program has it open",
            "close the other program (a serial terminal, an editor, another locum) and try again",
        )
    if number in (errno.EACCES, errno.EPERM):
        return Remark(
            "port_denied",
            where,
            "permission to open the port",
            f"it belongs to group '{group_of(device)}' and you are not in it",
            permission_remedy(device),
        )
    if number in (errno.EISDIR, errno.ENOTTY, errno.EINVAL):
        remedy = "run 'locum find' and name a port that it shows"
        return Remark("not_a_port", where, "a serial port", "something else", remedy)
    found = os.strerror(number) if number else text or type(error).__name__
    return Remark("port_trouble", where, "an open port", found, "plug the board in again")


def _errno_of(error: BaseException) -> int | None:
    number = getattr(error, "errno", None)
    if number is not None:
        return number
    match = re.search(r"Errno (\d+)|(?:Error|: )\((\d+),", str(error))
    return int(match.group(1) or match.group(2)) if match else None


def group_of(device: str) -> str:
    """Name of the group that owns a device file; the number if it has no name, '?' if unknown."""
    try:
        gid = os.stat(device).st_gid
    except OSError:
        return "?"
    try:
        import grp

        return grp.getgrgid(gid).gr_name
    except (ImportError, KeyError):
        return str(gid)


def permission_remedy(device: str) -> str:
    """The command that lets this user open this device, from the device's real group."""
    group = group_of(device)
    user = os.environ.get("USER") or os.environ.get("LOGNAME") or "$USER"
    if group in ("root", "?"):
        return (
            'as root, write SUBSYSTEM=="tty", ATTRS{idVendor}=="2e8a", MODE="0660", '
            'TAG+="uaccess" to /etc/udev/rules.d/60-locum.rules, then plug the board in again'
        )
    return f"run: sudo usermod -aG {group} {user}   then restart the computer"
