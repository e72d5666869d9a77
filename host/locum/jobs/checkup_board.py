"""The checkup of what is plugged in: ports, permissions, firmware, a Raspberry Pi's pins and pace."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from locum.errors import LocumError, Remark
from locum.jobs.checkup_look import Check, Surroundings
from locum.link import ports as port_list

FEWEST_HZ = 300.0
"""Below it a 10 ms bucket rests on fewer than three readings. [1/s]"""
LONGEST_GAP_MS = 100.0
"""The coil is let go after 250 ms without its pump, with room to spare. [ms]"""
SHUT = ("denied", "busy", "gone")
"""States of a port that does not open: nothing can be said of what is behind it."""


def port_checks(board: str | None, around: Surroundings) -> list[Check]:
    if board in ("virtual", "pi"):
        return []
    candidates = port_list.candidate_ports(around.ports())
    if board:
        candidates = [p for p in candidates if p.device == board] or [port_list.Port(board)]
    if not candidates:
        waiting = [Check(f"drive {d.folder}", False, d.remark.text) for d in around.boot_drives()]
        return waiting or [Check("ports", False, port_list.no_board().text)]
    checks = []
    for port in candidates:
        found = port_list.probe(port, around.opener)
        checks += [_permission(found)]
        if found.state not in SHUT:
            checks += [_firmware(found)]
    return checks


def _permission(found: port_list.FoundBoard) -> Check:
    if found.state in SHUT and found.remark is not None:
        return Check(f"port {found.port}", False, _words(found.remark))
    number = f", serial number {found.serial_number}" if found.serial_number else ""
    return Check(f"port {found.port}", True, f"opens{number}")


def _words(remark: Remark) -> str:
    """A remark beside the name of its place, which need not be told twice."""
    return replace(remark, where="").text


def _firmware(found: port_list.FoundBoard) -> Check:
    name = f"firmware {found.port}"
    if found.remark is not None:
        return Check(name, found.state == "ready", _words(found.remark))
    return Check(name, True, f"{found.model} {found.firmware}, protocol {found.protocol}")


def pi_checks(around: Surroundings) -> list[Check]:
    """The rate is only measured where there are pins to measure with."""
    pins = _pi(around)
    return [pins, _sampling(around)] if pins.passed else [pins]


def _sampling(around: Surroundings) -> Check:
    """How many readings a second this Pi reaches, beside what its board sheet says."""
    from locum.jobs.circuit import open_board

    sheet, _, _ = open_board("pi")
    sampling = sheet["sampling"]
    try:
        reached = around.pi_pace(sheet)
    except LocumError as trouble:
        return Check("sampling", False, trouble.remarks[0].text)
    said = f"{reached.words}; the board sheet says {sampling['reached_hz']:.0f}"
    said += f" ({sampling['reached_from'].split(':')[0]})" if sampling["reached_from"] else ""
    passed = reached.rate_hz >= FEWEST_HZ and reached.longest_gap_ms <= LONGEST_GAP_MS
    if passed and reached.first:
        return Check("sampling", True, said)
    if passed:
        user = around.environment.get("USER") or "USER"
        return Check(
            "sampling",
            True,
            f"{said}. Steps keep time better ahead of other programs: as root write "
            f"'{user} - rtprio 20' to /etc/security/limits.d/locum.conf, then log in again",
        )
    return Check(
        "sampling",
        False,
        f"{said}. At least {FEWEST_HZ:.0f} and no gap over {LONGEST_GAP_MS:.0f} ms are needed: end "
        "other programs on this Raspberry Pi, or use a Pico, which is punctual",
    )


def _pi(around: Surroundings) -> Check:
    """The Raspberry Pi's own pins: the library, the bus, and no silent software stand-in."""
    if not around.modules("lgpio"):
        return Check("pins", False, "the library lgpio is missing; run: pip install 'locum[pi]'")
    if around.system.startswith("linux") and not Path("/dev/spidev0.0").exists():
        return Check(
            "pins",
            False,
            "hardware SPI is off; put dtparam=spi=on and dtoverlay=spi0-2cs,cs1_pin=14 into "
            "/boot/firmware/config.txt, then restart",
        )
    return Check("pins", True, "lgpio and hardware SPI are there")
