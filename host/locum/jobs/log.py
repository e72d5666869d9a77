"""The rotating log: what happened, for the day somebody asks. No identity goes into it."""

from __future__ import annotations

import logging
import logging.handlers
import traceback

from locum.locations import log_path

MAX_BYTES, KEPT = 1_000_000, 4


def logger() -> logging.Logger:
    """The program's log, opened on first use; a folder that cannot be written is no reason to stop."""
    log = logging.getLogger("locum")
    if not log.handlers:
        log.setLevel(logging.INFO)
        log.propagate = False
        try:
            handler: logging.Handler = logging.handlers.RotatingFileHandler(
                log_path(), maxBytes=MAX_BYTES, backupCount=KEPT, encoding="utf-8", delay=True
            )
        except OSError:
            handler = logging.NullHandler()
        handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
        log.addHandler(handler)
    return log


def note_crash(error: BaseException) -> str:
    """Keep the traceback in the log and say where that is."""
    logger().error("unforeseen\n%s", "".join(traceback.format_exception(error)))
    return str(log_path())
