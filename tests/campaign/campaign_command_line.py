"""Commands nobody would type, and files nobody should have: no traceback, the right code, whole JSON.

    python tests/campaign/campaign_command_line.py [--short] [--commands N] [--seed N] [--only WORD]

Every command of the table is drawn with its options; values come from pools of good, strange and
impossible ones, files are the shipped sheets with one thing wrong, or nothing of the kind at all.
Each runs in this process with folders of its own. A fault is an exit code that is not in the
manual, a remark ``unforeseen``, stdout that is not one document under ``--json``, or a command that takes
longer than ``PATIENCE_S``. The last line sums up; exit 1 if there was a fault.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import random
import re
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from locum import cli
from locum.cli_commands import COMMANDS, Command, Option
from locum.locations import asset_root

COMMANDS_DRAWN, SHORT_COMMANDS = 1500, 100
PATIENCE_S, WALL_S = 30, 300
"""Of this process's own time, so that a busy machine is not taken for a slow command; and of anybody's."""
CODES = {0, 1, 2, 3, 4}
BARE = re.compile(r"\[Errno|(?i:\b(\w{3,}) \1\b)|<class|object at 0x|\bNone\b")
"""What the interpreter says where a person should be told, and words said twice."""
LEFT_OUT = {"serve", "demo", "firmware put"}
"""They wait for ever, play a whole case, or write to a board that may be plugged in."""
SELDOM = {"swap", "threshold", "shortest", "trial", "calibrate", "glitch", "follow", "listen"}
"""Whole drives on the virtual board: drawn once where others are drawn six times."""
NUMBERS = ("0", "1", "2", "0.5", "-1", "1e-300", "1e9", "1e308", "-1e308", "nan", "inf", "-inf", "1e999",
           "", " ", "x", "1,5", "0x10", "1_000", "९", "9" * 400)  # fmt: skip
WORDS = ("", " ", "a", "ü", "\udcff", "%s", "{0}", "'; drop table case; --", "*", '"', "\n", "\x1b[31m", "..",
         "/", "x" * 5000, "-", "=", "a=b", "NULL", "tap.pins.sensor=14", "now", "∞", "\u202e")  # fmt: skip
TEMPERATURES = (
    "82C",
    "180F",
    "20",
    "-40C",
    "1e99C",
    "nanC",
    "320ohm",
    "now",
    "0K",
    "C",
    "°C",
    "20..30",
    "-",
)
READINGS = ("20C=1.5k,82C=300", "20C=2500", "20C=2500,20C=2500", "20C=0,82C=1", "20C=-5k", "=", "20C=",
            "82C=300ohm,20C=1.5M", "20C=nan,82C=300", "20C=1e999,82C=300", ",".join(["20C=1k"] * 300))  # fmt: skip
SETTINGS = ("unit=fahrenheit", "unit=kelvin", "confidence=2", "confidence=nan", "casebook=", "=", "x",
            "theme=night", "board=virtual", "max_standing_min=1e9", "technician=\udcff")  # fmt: skip
POISON = (
    "nan",
    "inf",
    "-1",
    "0",
    "1e300",
    "9" * 400,
    '"x"',
    "[]",
    "{}",
    "true",
    "",
    "[1, 2",
    "1979-05-27",
)


class Files:
    """A folder of files that a command may be given: good ones, and each kind of bad one."""

    def __init__(self, folder: Path, rng: random.Random) -> None:
        self.folder, self.rng, self._made = folder, rng, 0
        raw = {
            "empty.csv": b"", "empty.toml": b"", "nul.csv": b"\x00" * 300, "noise.toml": rng.randbytes(900),
            "noise.csv": rng.randbytes(900), "utf16.csv": "celsius,ohms\n20,2500\n80,300\n".encode("utf-16"),
            "latin.toml": "schema = 1\ntitle = 'Kühler'\n".encode("latin-1"),
            "deep.toml": b"x = " + b"[" * 3000, "lines.csv": b"\n" * 2000, "wide.csv": b"," * 90_000 + b"\n1\n2\n",
            "long.csv": b"celsius,ohms\n20," + b"9" * 200_000 + b"\n80,300\n", "quote.csv": b'time_s,celsius\n"1,2\n3,4\n',
            "head.csv": b"celsius,ohms\n", "one.csv": b"celsius,ohms\n20,2500\n", "nan.csv": b"celsius,ohms\n20,nan\ninf,3\n",
            "same.csv": b"celsius,ohms\n20,2500\n20,2500\n20,2500\n", "flat.csv": b"celsius,ohms\n0,5\n20,5\n80,5\n",
            "good.csv": b"celsius,ohms\n0,5600\n20,2500\n40,1180\n80,320\n100,180\n",
            "limits.csv": b"t_c,r_min_ohm,r_max_ohm\n20,2700,2200\n80,300,330\n",
            "time.csv": b"time_s,celsius\n0,80\n10,81.5\n20,82\n", "still.csv": b"time_s,celsius\n0,80\n0,80\n-5,80\n",
            "fast.csv": b"time_s,celsius,contact\n0,-300,open\n1e-9,1e300,ajar\n1e300,5,short\n",
            "text.sqlite": b"not a casebook", "empty.sqlite": b"", "cut.sqlite": b"SQLite format 3\x00" + b"\x10\x00" * 40,
            "notazip.zip": b"PK\x03\x04nothing",
        }  # fmt: skip
        for name, content in raw.items():
            (folder / name).write_bytes(content)
        (folder / "a_folder.csv").mkdir()
        (folder / "looped").symlink_to(folder / "looped")
        (folder / "locked.csv").write_bytes(raw["good.csv"])
        (folder / "locked.csv").chmod(0)
        self._fixed = [*(str(folder / name) for name in raw), str(folder / "a_folder.csv"),
                       str(folder / "looped"), str(folder / "locked.csv"), str(folder), "/dev/null",
                       str(folder / "not-there.toml"), "/proc/self/mem", "x" * 300, "a\udcff.csv"]  # fmt: skip

    def any(self, kind: str = "") -> str:
        """A path; of a shipped sheet of that kind with something wrong in it, half the time."""
        if not kind or self.rng.random() < 0.5:
            return self.rng.choice(self._fixed)
        shipped = sorted(p for p in asset_root(kind).iterdir() if p.suffix in (".toml", ".csv"))
        return self._poisoned(self.rng.choice(shipped))

    def _poisoned(self, sheet: Path) -> str:
        lines = sheet.read_text(encoding="utf-8").splitlines()
        for _ in range(self.rng.randint(0, 3)):
            at = self.rng.randrange(len(lines))
            key, separator, _ = lines[at].partition("=")
            poison = self.rng.choice(POISON)
            if separator and self.rng.random() < 0.7:
                lines[at] = f"{key}= {poison}"
            else:
                lines[at] = re.sub(r"[\d.]+", poison, lines[at], count=1)
            if self.rng.random() < 0.2:
                del lines[self.rng.randrange(len(lines))]
        self._made += 1
        path = self.folder / f"{sheet.stem}-{self._made}{sheet.suffix}"
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return str(path)


class Drawer:
    """Draws arguments for the commands of the table."""

    SHEETS = {"S": "profiles/sensors", "SHEET": "profiles/sensors", "M": "profiles/modules",
              "V": "profiles/vehicles", "B": "hardware/boards", "PROFILE": "profiles/temperature"}  # fmt: skip
    NAMED = {"S": "coolant_2k5", "SHEET": "coolant_2k5", "M": "parcel_van_engine", "V": "parcel_van",
             "B": "reference", "PROFILE": "warm_hold"}  # fmt: skip

    def __init__(self, rng: random.Random, files: Files, known: dict[str, str]) -> None:
        self.rng, self.files, self.known = rng, files, known

    def arguments(self, path: tuple[str, ...], command: Command) -> list[str]:
        words = list(path)
        for option in command.options:
            flag = option.flags[-1]
            positional, required = not flag.startswith("-"), option.settings.get("required")
            forced = flag in ("--board", "--minutes", "--cases", "--workers", "--casebook")
            if not (positional or required or forced) and self.rng.random() < 0.65:
                continue
            if positional and self.rng.random() < 0.02:
                continue
            words += ([] if positional else [flag]) + self._values(option)
        if self.rng.random() < 0.1:
            words += ["--set", self.rng.choice(SETTINGS)]
        if self.rng.random() < 0.05:
            words.insert(self.rng.randrange(len(words) + 1), self.rng.choice(WORDS + NUMBERS))
        return [*words, "--json"] if self.rng.random() < 0.6 else words

    def _values(self, option: Option) -> list[str]:
        if option.settings.get("action") == "store_true":
            return []
        many = option.settings.get("nargs") in ("+", "*")
        return [self._value(option) for _ in range(self.rng.randint(1, 3) if many else 1)]

    def _value(self, option: Option) -> str:
        rng, flag, metavar = self.rng, option.flags[-1], option.settings.get("metavar", "")
        choices = option.settings.get("choices")
        if flag == "--board":
            return rng.choice(("virtual",) * 8 + ("/dev/null", "COM9", "pi", "", "/dev/ttyACM99"))
        if flag == "--minutes":
            return rng.choice(("0.02", "0.05", "0.02", "nan", "-1", "0"))
        if flag in ("--cases", "--workers", "--count", "--stretches"):
            return rng.choice(("1", "2", "0", "-1", "x"))
        if flag in ("--casebook",):
            return rng.choice((self.known["book"],) * 8 + (self.files.any(), "/dev/full"))
        if choices and rng.random() < 0.8:
            return rng.choice(choices)
        if metavar in self.SHEETS:
            return rng.choice((self.NAMED[metavar], self.NAMED[metavar], self.files.any(self.SHEETS[metavar]),
                               self.files.any(self.SHEETS[metavar]), rng.choice(READINGS), rng.choice(WORDS)))  # fmt: skip
        if metavar in ("ID", "DRIVE"):
            return rng.choice(
                (self.known[metavar],) * 5 + (rng.choice(WORDS), self.known["ID"][:4])
            )
        if "FILE" in metavar or "CSV" in metavar or metavar in ("DIR", "LINK"):
            fresh = str(
                self.files.folder / f"out-{rng.randrange(10**9)}{rng.choice(('', '.toml', '.zip'))}"
            )
            return rng.choice((fresh, self.files.any(), self.files.any(), "/dev/full", "/proc/none/x", ""))  # fmt: skip
        if option.settings.get("type") in (int, float):
            return rng.choice(NUMBERS)
        pools = {"VALUE": TEMPERATURES, "FROM": TEMPERATURES, "TO": TEMPERATURES, "T": TEMPERATURES,
                 "T=OHM": READINGS, "OHM:V": ("1k:2.5", "100:0.45", "0:0", "1k:nan", ":", "1k", "-5:1", "1e999:2"),
                 "K/EXPOSURE": ("3/10h", "0/10h", "3/10drives", "1/0", "nan/3", "3/-1h", "/", "9" * 400 + "/1h", "1/1e999h"),
                 "S=T": ("0=20,100=80", "nan=20", "=", "1e9=20"), "NAME@FROM-TO": ("top@0-10", "@", "a@9-1", "a@nan-3")}  # fmt: skip
        return rng.choice(pools.get(metavar, WORDS) if rng.random() < 0.85 else WORDS)


def leaves(
    commands=COMMANDS, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], Command]]:
    for command in commands:
        here = (*path, command.name)
        if command.children:
            yield from leaves(command.children, here)
        elif " ".join(here) not in LEFT_OUT:
            yield here, command


class TooLong(BaseException):
    """A command took longer than it may; not an Exception, so that no guard takes it for one."""


def _out_of_patience(signum, frame):
    raise TooLong


def fault_of(words: list[str]) -> str:
    """Run one command; what was wrong with how it ended, or ""."""
    out, err = io.TextIOWrapper(io.BytesIO(), "utf-8"), io.TextIOWrapper(io.BytesIO(), "utf-8")
    signal.setitimer(signal.ITIMER_PROF, PATIENCE_S)
    signal.alarm(WALL_S)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = cli.main(words)
    except TooLong:
        return f"still at it after {PATIENCE_S} s"
    except BaseException as escaped:
        return f"{type(escaped).__name__} came through: {escaped}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.alarm(0)
    texts = []
    for stream in (out, err):
        stream.flush()
        texts.append(stream.buffer.getvalue().decode("utf-8", "replace"))  # pyright: ignore
    return _wrong_with(code, *texts, as_json="--json" in words)


def _wrong_with(code: int, out: str, err: str, as_json: bool) -> str:
    if "fault of locum" in out + err or "Traceback" in out + err:
        return "unforeseen: " + next(line for line in (err + out).splitlines() if line)[:300]
    bare = BARE.search(out + err)
    if code and bare:
        return f"no sentence for a person: {bare.group()!r}"
    if code not in CODES:
        return f"exit code {code}"
    if code and not (out + err).strip():
        return f"exit code {code} without a word"
    if as_json and "--help" not in out[:20]:
        try:
            document = json.loads(out, parse_constant=lambda word: int("no " + word))
        except ValueError as error:
            return f"stdout is not one document ({error}): {out[:120]!r}"
        if code in (2, 3) and not document.get("refusals"):
            return f"exit code {code} without refusals"
    return ""


@contextlib.contextmanager
def surroundings(folder: Path) -> Iterator[None]:
    """Data, settings and working folder of the run's own."""
    kept, before = dict(os.environ), Path.cwd()
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"):
        (folder / name).mkdir()
        os.environ[name] = str(folder / name)
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)
        os.environ.clear()
        os.environ.update(kept)


def _known(folder: Path) -> dict[str, str]:
    """A casebook with a case and a recording, so that commands get further than not finding any."""
    book = str(folder / "book.sqlite")

    def asked(*words: str) -> dict:
        told = io.StringIO()
        with contextlib.redirect_stdout(told), contextlib.redirect_stderr(io.StringIO()):
            code = cli.main([*words, "--casebook", book, "--json"])
        if code:
            raise SystemExit(f"could not prepare: {told.getvalue()}")
        return json.loads(told.getvalue())

    case = asked(
        "case", "new", "Lock-up lets go", "--sensor", "coolant_2k5", "--vehicle", "parcel_van"
    )
    drive = asked("open", "--board", "virtual", "--case", case["id"])
    return {"book": book, "ID": case["id"], "DRIVE": drive["drive"]}


def run(count: int, seed: int, only: str = "", tell=print) -> int:
    """Draw and run so many commands; how many ended in a fault."""
    rng = random.Random(seed)
    folder = Path(tempfile.mkdtemp(prefix="locum-commands-"))
    handlers = {n: signal.signal(n, _out_of_patience) for n in (signal.SIGALRM, signal.SIGPROF)}
    pool = [leaf for leaf in leaves() for _ in range(1 if leaf[0][0] in SELDOM else 6)]
    pool = [leaf for leaf in pool if only in " ".join(leaf[0])]
    faults, began = 0, time.monotonic()
    try:
        with surroundings(folder):
            files, known = Files(folder, rng), _known(folder)
            spare = folder / "spare.sqlite"
            shutil.copyfile(known["book"], spare)
            drawer = Drawer(rng, files, known)
            for _ in range(count):
                words = drawer.arguments(*rng.choice(pool))
                wrong = fault_of(words)
                if wrong:
                    faults += 1
                    tell(f"{ascii(words)}\n    {wrong}")
                if rng.random() < 0.05:  # what a command did to the casebook is not to pile up
                    shutil.copyfile(spare, known["book"])
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
        shutil.rmtree(folder, ignore_errors=True)
    tell(
        f"{count - faults} of {count} commands ended as the manual says, in {time.monotonic() - began:.0f} s"
    )
    return faults


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true")
    parser.add_argument("--commands", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="commands whose name holds this word")
    args = parser.parse_args()
    count = args.commands or (SHORT_COMMANDS if args.short else COMMANDS_DRAWN)
    return 1 if run(count, args.seed, args.only) else 0


if __name__ == "__main__":
    sys.exit(main())
