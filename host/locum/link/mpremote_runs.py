"""Work done on a board at its prompt: the one place that runs mpremote, and the programs it runs."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from locum.errors import LinkTrouble, Remark

Runner = Callable[[list[str]], "tuple[int, str]"]
"""Runs mpremote with these arguments; gives its exit code and output."""


# Programs that run on the board. Each prints one JSON line; plain MicroPython, nothing else.

LOOK = """
import os, sys, json
def text(n):
    try: return open(n).read().strip()
    except OSError: return ''
v = os.statvfs('/')
print(json.dumps({'active': text('active.txt'), 'previous': text('previous.txt'), 'folders': [n for n in os.listdir() if n[:2] == 'v-'],
 'free': v[0] * v[3], 'version': list(sys.implementation.version[:3]), 'mpy': getattr(sys.implementation, '_mpy', 0)}))
"""

CLEAR = """
import os
def gone(p):
    try:
        for n in os.listdir(p): gone(p + '/' + n)
        os.rmdir(p)
    except OSError: os.remove(p)
for n in %r: gone(n)
print('{}')
"""

MAKE = """
import os, json
for n in %r:
    try: os.mkdir(n)
    except OSError: pass
with open(%r, 'w') as f: f.write(json.dumps({'id': %r}))
print('{}')
"""

HASH = """
import hashlib, json
def digest(n):
    h = hashlib.sha256()
    try:
        with open(n, 'rb') as f:
            while True:
                c = f.read(512)
                if not c: break
                h.update(c)
    except OSError: return ''
    return ''.join(['%%02x' %% b for b in h.digest()])
print(json.dumps({n: digest(n) for n in %r}))
"""

SWITCH = """
import os
def put(n, t):
    with open(n + '.new', 'w') as f: f.write(t)
    os.rename(n + '.new', n)
if %(starter)r: os.rename(%(starter)r, 'main.py')
if %(before)r: put('previous.txt', %(before)r)
put('active.txt', %(active)r)
print('{}')
"""


class Mpremote:
    """The one place that runs mpremote."""

    def __init__(self, port: str, runner: Runner) -> None:
        self.port = port
        self._runner = runner

    def run(self, *arguments: str) -> str:
        """Output of mpremote; LinkTrouble in plain words when it fails."""
        code, output = self._runner(["connect", self.port, *arguments])
        if code:
            raise LinkTrouble(mpremote_trouble(self.port, output))
        return output

    def program(self, text: str) -> dict[str, Any]:
        """Run a program on the board; what its last JSON line says."""
        output = self.run("exec", text)
        for line in reversed(output.splitlines()):
            if line.startswith("{"):
                return json.loads(line)
        raise LinkTrouble(mpremote_trouble(self.port, output))

    def copy(self, files: Sequence[tuple[Path, str]]) -> None:
        """Copy files one after another in one run."""
        arguments: list[str] = []
        for source, target in files:
            arguments += [*(["+"] if arguments else []), "fs", "cp", str(source), f":{target}"]
        self.run(*arguments)


def run_mpremote(arguments: list[str]) -> tuple[int, str]:
    """Run mpremote as a program of its own: it has no documented way to be called as a library."""
    done = subprocess.run(
        [sys.executable, "-m", "mpremote", *arguments],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


def mpremote_trouble(port: str, output: str) -> Remark:
    low = output.lower()
    last = output.strip().splitlines()[-1] if output.strip() else "no word"
    if "raw repl" in low:
        found = "a board that does not come to its prompt"
        remedy = "unplug it, hold its button, plug it in, then run this again"
    elif "no device" in low or "no such file" in low:
        found, remedy = "no board there any more", "plug it in again; 'locum find' shows its port"
    elif "in use" in low or "busy" in low or "access" in low or "permission" in low:
        found = "a port that another program has or that you may not open"
        remedy = "close other programs; 'locum checkup' prints the exact permission"
    else:
        found, remedy = last, "run this again; the version that was there still starts"
    return Remark("firmware_put", port, "the firmware put on the board", found, remedy)
