"""What `locum` without a command opens: the screens, or with --plain the same job line by line."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from locum.cli_options import (
    BOARD,
    BOARD_SHEET,
    CASE,
    CASEBOOK,
    MODULE,
    SEED,
    SENSOR,
    SETTING,
    SPEED,
    VEHICLE,
    Option,
    option,
)
from locum.errors import Misuse, Remark

PLAIN = option("--plain", action="store_true", help="line by line, for pipes, screen readers and dumb terminals")  # fmt: skip
FRONT: tuple[Option, ...] = (
    PLAIN, SENSOR, MODULE, VEHICLE, CASE, CASEBOOK, BOARD, BOARD_SHEET, SPEED, SEED,
    SETTING,
)  # fmt: skip
"""Options of `locum` without a command."""
OTHERS = ("--help", "-h", "--version")


def opens_front(arguments: Sequence[str]) -> bool:
    """Whether these arguments are no command: nothing, options alone, or the word plain."""
    if not arguments or arguments[0] == "plain":
        return True
    return arguments[0].startswith("-") and not any(a in OTHERS for a in arguments)


def open_front(arguments: Sequence[str], parser) -> int:
    """Open screens or lines; the exit code. ``parser``: an empty one of the command line's kind."""
    from locum.settings import give_settings

    for one in FRONT:
        parser.add_argument(*one.flags, **one.settings)
    given = list(arguments)
    if given and given[0] == "plain":
        given[0] = "--plain"
    options = vars(parser.parse_args(given))
    give_settings(options.pop("settings"))
    plain = options.pop("plain")
    if not plain and (os.environ.get("TERM", "") in ("", "dumb") or not sys.stdout.isatty()):
        raise Misuse(Remark("no_terminal", "locum", "a terminal for the screens", "none",
                            "type `locum --plain`: the same job line by line; or `locum --help`"))  # fmt: skip
    from locum.jobs.desk_facts import Setup

    speed = options.pop("speed")
    setup = Setup(**options, speed=1.0 if speed is None else speed)
    if plain:
        from locum.ui.plain import run as run_plain

        return run_plain(setup)
    from locum.ui.app import run

    return run(setup)
