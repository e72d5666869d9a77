"""Makes what the emulated Pico needs: the emulator and a MicroPython image, from package registries.

    python tests/firmware/emulated/build.py [FOLDER]

Takes about five minutes and 300 MB, needs Debian with ``gcc-arm-none-eabi``,
``libnewlib-arm-none-eabi``, ``libstdc++-arm-none-eabi-newlib``, ``cmake`` and ``make``. MicroPython's
source, the Pico's libraries and TinyUSB come as Debian packages of the newer suites, by the mirror
this computer's own apt already uses; the emulator (rp2040py) and the file system (littlefs-python)
from PyPI. Without network security parts (their sources are not packaged) the image is MicroPython's
own. FOLDER is ``$LOCUM_EMULATED`` or ``~/.cache/locum-emulated-pico``.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

SUITES = ("trixie", "sid")
PACKAGES = ("pico-sdk-source", "tinyusb-source")
TOOLS = ("arm-none-eabi-gcc", "cmake", "make", "apt-get", "dpkg")


def tools_folder() -> Path:
    """Where the emulator and the image are, or are to be."""
    named = os.environ.get("LOCUM_EMULATED")
    return Path(named) if named else Path.home() / ".cache" / "locum-emulated-pico"


def missing(folder: Path) -> str:
    """Why the emulated Pico is not to be used; empty if it is. It is slow, so it is asked for."""
    if not os.environ.get("LOCUM_EMULATED"):
        return "LOCUM_EMULATED does not name the folder that tests/firmware/emulated/build.py made"
    if not (folder / "firmware.bin").exists():
        return f"no MicroPython image in {folder}: run tests/firmware/emulated/build.py"
    if not (folder / "python" / "rp2040py").is_dir():
        return f"no emulator in {folder}: run tests/firmware/emulated/build.py"
    return ""


def run(*command: str | Path, cwd: Path | None = None) -> str:
    print("+", " ".join(str(part) for part in command), file=sys.stderr)
    done = subprocess.run(
        [str(part) for part in command], cwd=cwd, check=True, stdout=subprocess.PIPE, text=True
    )
    return done.stdout


def mirror() -> str:
    """The Debian mirror that apt uses here."""
    for line in run("apt-get", "indextargets", "--format", "$(ORIGIN) $(REPO_URI)").splitlines():
        origin, _, uri = line.partition(" ")
        if origin == "Debian" and "security" not in uri:
            return uri.strip()
    raise SystemExit("apt knows no Debian mirror")


def private_apt(folder: Path) -> list[str]:
    """Options for an apt that knows the newer suites and touches nothing of this computer's."""
    for part in ("lists/partial", "cache/archives/partial"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    uri = mirror()
    lines = [f"{kind} {uri} {suite} main" for suite in SUITES for kind in ("deb", "deb-src")]
    (folder / "sources.list").write_text("\n".join(lines) + "\n")
    options = {
        "Dir::Etc::sourcelist": folder / "sources.list",
        "Dir::Etc::sourceparts": "-",
        "Dir::State::lists": folder / "lists",
        "Dir::Cache": folder / "cache",
    }
    return [part for name, value in options.items() for part in ("-o", f"{name}={value}")]


def fetch(work: Path) -> tuple[Path, Path]:
    """Sources of MicroPython and of the Pico's libraries, unpacked."""
    options = private_apt(work / "apt")
    run("apt-get", *options, "update")
    run("apt-get", *options, "source", "--download-only", "micropython", cwd=work)
    newest = "=2.1.1-1"  # the release of the libraries that this MicroPython was written for
    run("apt-get", *options, "download", f"pico-sdk-source{newest}", "tinyusb-source", cwd=work)
    archive = max(work.glob("micropython_*.orig.tar.xz"))
    run("tar", "xJf", archive.name, cwd=work)
    for package in work.glob("*.deb"):
        run("dpkg", "-x", package, work / "packages")
    source = next(p for p in work.glob("micropython-*") if p.is_dir())
    return source, work / "packages" / "usr" / "src"


def leave_out_network(port: Path) -> None:
    """The network security library is not in Debian's source; nothing of ours wants it."""
    lists = port / "CMakeLists.txt"
    text = lists.read_text()
    text = text.replace("set(MICROPY_SSL_MBEDTLS ON)", "set(MICROPY_SSL_MBEDTLS OFF)")
    text = text.replace("list(APPEND GIT_SUBMODULES lib/mbedtls)", "")
    text = text.replace("target_link_libraries(${MICROPY_TARGET} micropy_lib_mbedtls)", "")
    text = "\n".join(line for line in text.splitlines() if "mbedtls/mbedtls_port.c" not in line)
    lists.write_text(text + "\n")
    header = port / "mpconfigport.h"
    text = header.read_text()
    for name in ("HASHLIB_SHA1", "CRYPTOLIB", "SSL"):
        text = re.sub(rf"(#define MICROPY_PY_{name}) .*", r"\1 (0)", text)
    text = re.sub(r"(#define MICROPY_SSL_MBEDTLS) .*", r"\1 (0)", text)
    header.write_text(text)


def compile_image(source: Path, libraries: Path, work: Path) -> Path:
    """MicroPython for the Pico, as one binary."""
    port = source / "ports" / "rp2"
    leave_out_network(port)
    usb = source / "lib" / "tinyusb"
    if usb.is_dir() and not any(usb.iterdir()):
        usb.rmdir()
        usb.symlink_to(libraries / "tinyusb")
    (source / "lib" / "micropython-lib" / "README.md").touch()
    manifest = work / "manifest.py"
    manifest.write_text('freeze("$(PORT_DIR)/modules")\ninclude("$(MPY_DIR)/extmod/asyncio")\n')
    run("make", "-C", source / "mpy-cross", "-j2")
    build = work / "build"
    run(
        "cmake", "-S", port, "-B", build, "-DMICROPY_BOARD=RPI_PICO",
        f"-DPICO_SDK_PATH_OVERRIDE={libraries / 'pico-sdk'}",
        f"-DMICROPY_FROZEN_MANIFEST={manifest}", "-DPICO_NO_PICOTOOL=1", "-DPICO_NO_UF2=1",
    )  # fmt: skip
    run("make", "-C", build, "-j2")
    return build / "firmware.bin"


def main() -> int:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else tools_folder()
    absent = [tool for tool in TOOLS if not shutil.which(tool)]
    if absent:
        print("missing: " + ", ".join(absent), file=sys.stderr)
        return 1
    work = folder / "work"
    work.mkdir(parents=True, exist_ok=True)
    os.environ.setdefault("PICO_SDK_PATH", str(work / "packages" / "usr" / "src" / "pico-sdk"))
    source, libraries = fetch(work)
    shutil.copy(compile_image(source, libraries, work), folder / "firmware.bin")
    shutil.copy(source / "mpy-cross" / "build" / "mpy-cross", folder / "mpy-cross")
    run(
        sys.executable, "-m", "pip", "install", "-q", "--upgrade",
        "--target", folder / "python", "rp2040py[fs]",
    )  # fmt: skip
    shutil.rmtree(work)
    print(folder)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
