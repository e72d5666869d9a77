"""Calibration, ladder and last plan in flash: two copies, each with a CRC, written at rest only.

A copy is one file: ``<4sIII`` magic, sequence number, length, CRC-32 of what precedes and follows,
then the data. The older copy is overwritten, the newer stays until the new one is whole, so that
power lost at any moment leaves one good copy. The player stands still for the tens of
milliseconds of each erased sector (the record counts the gap); hence at rest only.
"""

import binascii
import os
import struct

MAGIC = b"LKV1"
HEADER = "<4sIII"
HEADER_BYTES = 16
CHUNK = 1024


class Store:
    """``feed`` is called between chunks (the watchdog)."""

    def __init__(self, folder, feed=None):
        self.folder = folder
        self._feed = feed
        try:
            os.mkdir(folder)
        except OSError:
            pass

    def _path(self, name, copy):
        return self.folder + "/" + name + "." + copy

    def _sequence(self, name, copy):
        """Sequence number of a whole copy, or 0."""
        try:
            with open(self._path(name, copy), "rb") as file:
                head = file.read(HEADER_BYTES)
                if len(head) < HEADER_BYTES:
                    return 0
                magic, sequence, length, crc = struct.unpack(HEADER, head)
                if magic != MAGIC:
                    return 0
                found = binascii.crc32(head[:12])
                left = length
                while left:
                    chunk = file.read(min(CHUNK, left))
                    if not chunk:
                        return 0
                    found = binascii.crc32(chunk, found)
                    left -= len(chunk)
                return sequence if found & 0xFFFFFFFF == crc else 0
        except (OSError, ValueError):
            return 0

    def save(self, name, data):
        """Keep ``data``; False if the flash would not take it."""
        a = self._sequence(name, "a")
        b = self._sequence(name, "b")
        copy = "b" if a > b else "a"
        head = struct.pack("<4sII", MAGIC, max(a, b) + 1, len(data))
        crc = binascii.crc32(data, binascii.crc32(head)) & 0xFFFFFFFF
        view = memoryview(data)
        try:
            with open(self._path(name, copy), "wb") as file:
                file.write(head + struct.pack("<I", crc))
                for start in range(0, len(data), CHUNK):
                    file.write(view[start : start + CHUNK])
                    if self._feed:
                        self._feed()
        except OSError:
            return False
        return self._sequence(name, copy) > max(a, b)

    def load(self, name):
        """The newest whole copy, or None."""
        a = self._sequence(name, "a")
        b = self._sequence(name, "b")
        if not a and not b:
            return None
        with open(self._path(name, "a" if a > b else "b"), "rb") as file:
            file.read(HEADER_BYTES)
            return file.read()
