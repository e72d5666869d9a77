"""Who may import what, seen in fresh interpreters: the walls between the rooms."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

HOST = Path(__file__).resolve().parent.parent / "host" / "locum"

IO = {"serial", "gpiozero", "textual", "sqlite3", "mpremote"}
FORBIDDEN = {
    "physics": IO | {"locum.link", "locum.casebook", "locum.ui", "locum.jobs", "locum.virtual",
                     "locum.review", "locum.verdict", "locum.planning", "locum.recording"},
    "review": IO | {"locum.link", "locum.casebook", "locum.ui", "locum.jobs", "locum.virtual",
                    "locum.verdict", "locum.recording"},
    "verdict": IO | {"locum.link", "locum.casebook", "locum.ui", "locum.jobs", "locum.virtual",
                     "locum.recording"},
    "virtual": IO | {"locum.link", "locum.casebook", "locum.ui", "locum.jobs", "locum.verdict",
                     "locum.recording"},
    "planning": IO | {"locum.link", "locum.casebook", "locum.ui", "locum.jobs", "locum.virtual"},
    "sheets": IO | {"locum.link", "locum.casebook", "locum.ui", "locum.jobs", "locum.virtual"},
    "ui": {"serial", "gpiozero", "sqlite3", "numpy.linalg", "scipy", "locum.physics",
           "locum.virtual", "locum.link", "locum.casebook", "locum.verdict"},
    "report": IO | {"locum.link", "locum.ui", "locum.jobs", "locum.virtual"},
    "casebook": {"serial", "gpiozero", "textual", "locum.link", "locum.ui", "locum.jobs",
                 "locum.virtual"},
}  # fmt: skip
"""Room -> modules its own files may not name in an import."""

LOADED = {"physics": IO, "review": IO, "verdict": IO, "planning": IO}
"""Room -> modules that must not be loaded when it is imported whole, by whatever way."""


def modules(room: str) -> list[str]:
    files = sorted((HOST / room).rglob("*.py"))
    return [".".join(("locum", *f.relative_to(HOST).with_suffix("").parts)) for f in files
            if f.name != "__init__.py"]  # fmt: skip


def imports(path: Path) -> set[str]:
    """Absolute names a file imports, relative ones resolved, type-checking blocks included."""
    package = ("locum", *path.relative_to(HOST).parent.parts)
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            stem = ".".join((*base, *((node.module,) if node.module else ())))
            found |= {stem, *(f"{stem}.{alias.name}" for alias in node.names)}
    return found


@pytest.mark.parametrize("room", FORBIDDEN)
def test_a_room_imports_nothing_it_may_not_know(room):
    wrong = [
        f"{path.relative_to(HOST)} imports {name}"
        for path in sorted((HOST / room).rglob("*.py"))
        for name in sorted(imports(path))
        if any(name == bad or name.startswith(bad + ".") for bad in FORBIDDEN[room])
    ]
    assert wrong == []


def test_only_jobs_bodies_and_tests_know_the_virtual_world():
    allowed = {"jobs", "bodies", "virtual", "link"}
    wrong = [
        str(path.relative_to(HOST))
        for path in sorted(HOST.rglob("*.py"))
        if path.relative_to(HOST).parts[0] not in allowed
        and any(name.startswith("locum.virtual") for name in imports(path))
    ]
    assert wrong == []


@pytest.mark.parametrize("room", LOADED)
def test_a_fresh_interpreter_loads_no_port_store_or_screen_with(room):
    code = (
        "import importlib, sys\n"
        f"for name in {modules(room)!r}: importlib.import_module(name)\n"
        f"print(sorted({LOADED[room]!r} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


def test_one_file_each_knows_the_serial_port_and_the_pins():
    for library, home in (("serial", {"link/serial_port.py", "link/ports.py"}), ("gpiozero", {"bodies/pi.py"})):  # fmt: skip
        users = {
            path.relative_to(HOST).as_posix()
            for path in HOST.rglob("*.py")
            if any(n == library or n.startswith(library + ".") for n in imports(path))
        }
        assert users <= home | {p for p in users if p.startswith("bodies/pi")}, users
