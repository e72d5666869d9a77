"""The engine of the board: one set of files for MicroPython and CPython, no I/O."""
