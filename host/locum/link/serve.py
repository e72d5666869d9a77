"""A board on a pseudo-terminal, for any client that can open a serial port.

The pty is raw, so that bytes go through as they are; the link to it appears when the board
answers and goes when serving ends. A client that does not read is never waited for: answers it
leaves lying beyond 256 kB are dropped, the board's own time goes on.
"""

from __future__ import annotations

import os
import select
import signal
import sys
import threading
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

from locum.bodies.pace import TALK_NEXT, ahead_of_others
from locum.errors import FileTrouble, LinkTrouble, Remark
from locum.flag import Flag

if TYPE_CHECKING:
    from locum.bodies.served import ServedBody

TURN_S = 0.02
PACE_S = 1.0
"""So long a board whose player Linux holds up is looked at before its rate is said. [s]"""
MOST_WAITING = 256 * 1024


def serve_pty(
    body: str,
    link_path: str,
    interpreter: str = "python",
    *,
    seed: int = 1,
    stop: Flag | threading.Event | None = None,
) -> None:
    """Serve a body by its name until ``stop`` is set, SIGTERM or Ctrl-C. Says the address on stderr.

    Raises LinkTrouble where there are no pseudo-terminals or the body does not answer,
    FileTrouble if something else is at ``link_path``.
    """
    from locum.bodies.served import open_served

    _need_pty()
    _clear_place(Path(link_path))
    serve_body(open_served(body, interpreter, seed), link_path, body, interpreter, stop)


def serve_body(
    served: ServedBody,
    link_path: str,
    name: str,
    interpreter: str = "python",
    stop: Flag | threading.Event | None = None,
) -> None:
    """Serve a body that is open already; it is closed in the end. Raises as :func:`serve_pty`."""
    import pty
    import tty

    link = Path(link_path)
    master, slave = pty.openpty()
    try:
        tty.setraw(slave)
        os.set_blocking(master, False)
        if not served.receive(b"*IDN?\n").startswith(b"locum,"):
            raise LinkTrouble(Remark("no_answer", name, "a board that answers", "silence"))
        stop = stop or _stop_by_signal()
        pace = getattr(served, "pace", None)
        if pace is not None and not stop.wait(PACE_S):
            print(f"{name}: {pace.reached().words}", file=sys.stderr)
        address = os.ttyname(slave)
        _make_link(link, address)
        print(f"serving {name} ({interpreter}) at {link_path} -> {address}", file=sys.stderr)
        with ahead_of_others(TALK_NEXT) if pace is not None else nullcontext():
            _run(served, master, stop)
        if pace is not None:
            print(f"{name}: all the while {pace.reached().words}", file=sys.stderr)
    except KeyboardInterrupt:
        pass
    finally:
        _remove_link(link, slave)
        served.close()
        os.close(master)
        os.close(slave)


def _need_pty() -> None:
    try:
        import pty  # noqa: F401
        import tty  # noqa: F401
    except ImportError:
        raise LinkTrouble(
            Remark(
                "no_pty",
                wanted="pseudo-terminals",
                found="a system without them",
                remedy="use --board virtual instead",
            )  # fmt: skip
        ) from None


def _run(served: ServedBody, master: int, stop: Flag | threading.Event) -> None:
    waiting = bytearray()
    while not stop.is_set():
        readable, writable, _ = select.select([master], [master] if waiting else [], [], TURN_S)
        if readable:
            waiting += served.receive(os.read(master, 65536))
        else:
            waiting += served.turn()
        if len(waiting) > MOST_WAITING:
            waiting.clear()
        if waiting and (writable or readable):
            try:
                del waiting[: os.write(master, bytes(waiting[:4096]))]
            except BlockingIOError:
                continue


def _stop_by_signal() -> Flag:
    stop = Flag()
    if threading.current_thread() is threading.main_thread():
        # Ctrl-C too: a server started in a script's background would otherwise inherit "ignore".
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda number, frame: stop.set())
    return stop


def _clear_place(link: Path) -> None:
    """A stale link may be replaced; anything else at the place is left alone and refused."""
    if link.is_symlink() and not link.exists():
        link.unlink()
    if link.is_symlink() or link.exists():
        raise FileTrouble(
            Remark(
                "place_taken",
                str(link),
                "a free path for the link",
                "something is there",
                "choose another path or end the other server",
            )  # fmt: skip
        )


def _make_link(link: Path, address: str) -> None:
    try:
        link.symlink_to(address)
    except OSError as trouble:
        raise FileTrouble(
            Remark(
                "no_link",
                str(link),
                "a link to make",
                trouble.strerror or str(trouble),
                "choose a folder you may write to",
            )  # fmt: skip
        ) from trouble


def _remove_link(link: Path, slave: int) -> None:
    """Only our own."""
    try:
        if link.is_symlink() and os.readlink(link) == os.ttyname(slave):
            link.unlink()
    except OSError:
        pass
