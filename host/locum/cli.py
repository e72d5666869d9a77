"""The command line: parses, calls one job, prints its result. Computes nothing.

Every job returns a dataclass; with ``--json`` it is one document on stdout, otherwise
``cli_text`` tells it in words. Talk goes to stderr. Jobs are imported when their command runs, so
that ``--help`` is quick.
"""

from __future__ import annotations

import argparse
import difflib
import errno
import importlib
import io
import json
import os
import re
import sys
from collections.abc import Sequence
from typing import TextIO

from locum import __version__
from locum.cli_commands import COMMANDS, Command
from locum.cli_front import open_front, opens_front
from locum.cli_help import EXAMPLES, Page, examples, front_end, front_page, sentence
from locum.cli_options import SHARED
from locum.cli_phrases import printable
from locum.errors import FileTrouble, LocumError, Misuse, Remark


class Parser(argparse.ArgumentParser):
    """argparse that takes -10C for a value and speaks our kind of sentence."""

    def __init__(self, *args, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self._negative_number_matcher = re.compile(r"^-\.?\d.*$")
        self._positionals.title = "arguments"

    def error(self, message: str):
        wanted, found = "a command as in --help", message
        typed = re.match(r"argument (\S+): invalid (number|whole) value: (.*)$", message, re.DOTALL)
        if typed:
            kind = "a whole number" if typed[2] == "whole" else "a number"
            raise Misuse(Remark("usage", f"{self.prog} {typed[1]}", kind, typed[3][:80], f"See {self.prog} --help"))  # fmt: skip
        lacking = re.match(r"the following arguments are required: (.*)$", message)
        if lacking:
            raise Misuse(Remark("usage", self.prog, lacking[1], "nothing of it", f"See {self.prog} --help"))  # fmt: skip
        choice = re.match(r"argument (\S+): invalid choice: '(.*?)' \(choose from (.*)\)$", message, re.DOTALL)  # fmt: skip
        meant = ""
        if choice:
            known = re.findall(r"[^\s,']+", choice[3])
            near = difflib.get_close_matches(choice[2], known, 1)
            wanted = f"one of {', '.join(known)}" if choice[1].startswith("-") else wanted
            found, meant = f"'{choice[2]}'", f"did you mean '{near[0]}'? " if near else ""
        raise Misuse(Remark("usage", self.prog, wanted, found, f"{meant}See {self.prog} --help"))


def _add_command(where, command: Command, above: str = "") -> None:
    path = f"{above} {command.name}".strip()
    told = f"Each has a page of its own: `locum {path} {command.children[0].name} --help`." if command.children else examples(EXAMPLES[path])  # fmt: skip
    parser = where.add_parser(
        command.name, help=command.summary, description=sentence(command.summary),
        epilog=told, formatter_class=Page,
    )  # fmt: skip
    if command.children:
        inner = parser.add_subparsers(
            title="commands", metavar="COMMAND", required=True, parser_class=Parser
        )
        for child in command.children:
            _add_command(inner, child, path)
        return
    shared = parser.add_argument_group("options that commands share")
    for option in command.all_options:
        group = shared if option in SHARED else parser
        group.add_argument(*option.flags, **option.settings)
    parser.set_defaults(command=command)


def build_parser() -> Parser:
    parser = Parser(
        prog="locum",
        usage="locum [--help] [--version] COMMAND ...",
        description=front_page({command.name: command.summary for command in COMMANDS}),
        epilog=front_end(),
        formatter_class=Page,
    )
    parser.add_argument(
        "--version", action="version", version=f"locum {__version__}", help="which one this is"
    )
    commands = parser.add_subparsers(prog="locum", parser_class=Parser, help=argparse.SUPPRESS)
    for command in COMMANDS:
        _add_command(commands, command)
    return parser


def _check_letters(arguments: Sequence[str], command: str) -> None:
    """Misuse for bytes that are no letters, unless they name a file: a casebook cannot keep them."""
    for word in arguments:
        if not word.isascii() and _is_broken(word) and not os.path.exists(word):
            raise Misuse(Remark("letters", command, "letters of UTF-8", f"bytes that are none, in {ascii(word)[:60]}",
                                "type it again, or set the terminal to UTF-8"))  # fmt: skip


def _is_broken(word: str) -> bool:
    return any("\ud800" <= letter <= "\udfff" for letter in word)


def _print_json(document: dict) -> None:
    from locum.jobs.jsontext import plain_json

    plain = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
    print(json.dumps(plain_json(document), ensure_ascii=plain, allow_nan=False))


def _fail(error: LocumError, as_json: bool, command: str) -> int:
    refused = [remark.as_json() for remark in error.remarks]
    if as_json:
        kind = type(error).__name__
        _print_json({"ok": False, "command": command, "error": kind, "refusals": refused,
                     "warnings": [note.as_json() for note in error.notes]})  # fmt: skip
    if not as_json:
        _say(*(f"Note: {printable(note.text)}" for note in error.notes))
    _say(*(printable(remark.text) for remark in error.remarks))
    return error.exit_code


def _give_settings(pairs: list[str]) -> None:
    if pairs or "locum.settings" in sys.modules:  # else nothing was given before
        from locum.settings import give_settings

        give_settings(pairs)


def _run(args: argparse.Namespace) -> int:
    command: Command = args.command
    module, _, name = command.job.partition(":")
    job = getattr(importlib.import_module(module), name)
    options = {k: v for k, v in vars(args).items() if k not in ("command", "json")}
    _give_settings(options.pop("settings"))
    result = job(**options)
    document = result.as_json()
    if args.json:
        _print_json(document)
    else:
        from locum.cli_text import tell

        tell(result, command.job)
    if not args.json:
        _say(*(f"Note: {printable(warning['text'])}" for warning in document.get("warnings", ())))
    return getattr(result, "exit_code", 0)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code (0 done, 1 refused, 2 misuse, 3 link or file, 4 trip)."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    _open_what_is_closed()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that has no such letter shows "?"
            stream.reconfigure(errors="replace")
    try:
        code = _obey(arguments)
        sys.stdout.flush()  # what is held back comes out while its fate can still be told
        return code
    except BrokenPipeError:  # whoever read has seen enough
        _nobody_reads(sys.stdout)
        return 0
    except OSError as error:
        _nobody_reads(sys.stdout)
        return _fail(_file_trouble(error), False, "")


def _open_what_is_closed() -> None:
    """Python has None for a stream that was closed before it began, as services and `>&-` do; and the
    next file opened would have its number."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115


def _nobody_reads(stream: TextIO) -> None:
    """So that the interpreter does not try again to write what it still holds when it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _say(*lines: str) -> None:
    """On stderr; where that cannot be written nobody can be told, and the exit code still says it."""
    try:
        for line in lines:
            print(line, file=sys.stderr)
    except OSError:
        _nobody_reads(sys.stderr)


def _obey(arguments: list[str]) -> int:
    """The command, its trouble told in words; raises OSError where the words cannot be written."""
    as_json, command = "--json" in arguments, arguments[0] if arguments else "locum"
    try:
        if opens_front(arguments):
            return open_front(arguments, Parser(prog="locum"))
        _check_letters(arguments, command)
        args = build_parser().parse_args(arguments)
        if not hasattr(args, "command"):
            build_parser().print_help(sys.stderr)
            return Misuse.exit_code
        return _run(args)
    except LocumError as error:
        return _fail(error, as_json, command)
    except KeyboardInterrupt:
        _say("Stopped by Ctrl-C.")
        return 130
    except SystemExit as leaving:
        return int(leaving.code or 0)
    except BrokenPipeError:
        raise
    except OSError as error:
        if error.filename is None and error.errno != errno.ENOSPC:
            return _unforeseen(error, as_json, command)
        return _fail(_file_trouble(error), as_json, command)
    except Exception as unforeseen:  # the last guard: no traceback reaches a user
        return _unforeseen(unforeseen, as_json, command)


def _file_trouble(error: OSError) -> FileTrouble:
    """What the system says about a path, or the output, that nobody closer to it has put into words."""
    reason = error.strerror or str(error)
    if error.filename is None:
        wanted, do = "to be written", "make room there, or send it elsewhere"
        return FileTrouble(Remark("output", "the output", wanted, reason, do))
    path = os.fsdecode(error.filename)[:200]
    do = "check the path, or name another"
    return FileTrouble(Remark("file", path, "to read or write it", reason, do))


def _unforeseen(error: Exception, as_json: bool, command: str) -> int:
    from locum.jobs.log import note_crash

    where = note_crash(error)
    remark = Remark(
        "unforeseen", command, "to finish", f"{type(error).__name__}: {error}",
        f"this is a fault of locum; the details are in {where}",
    )  # fmt: skip
    return _fail(LocumError(remark), as_json, command)


if __name__ == "__main__":
    sys.exit(main())
