"""Starts the firmware, and always leaves a way back.

The version to start is the folder named in ``active.txt``; without that file the program lies
beside this one. A version that cannot even be imported is given up for the one in
``previous.txt``; if none can be started the board stops at the interpreter's prompt, where a new
one can be put on. Nothing is driven until a version has started: a pin of a board that has just
woken up is an input, and an input drives no coil.
"""

import sys


def folder_in(name):
    """The folder a text file names, or None."""
    try:
        with open(name) as file:
            return file.read().strip() or None
    except OSError:
        return None


def load(folder):
    """The board of the program in a folder ("" is the root), or None with the reason printed."""
    for name in list(sys.modules):
        if name.split(".")[0] in ("drivers", "locum_board"):
            del sys.modules[name]
    path = list(sys.path)
    if folder:
        sys.path.insert(0, folder)
    try:
        from drivers import start

        return start.prepare() or Prompt()
    except Exception as trouble:
        print("firmware in '%s' does not start:" % folder)
        if hasattr(sys, "print_exception"):
            sys.print_exception(trouble)
        sys.path[:] = path
        return None


class Prompt:
    """Runs nothing: the prompt was asked for."""

    def run(self):
        pass


def chosen():
    """The board to run, or None if no version can be started."""
    board = load(folder_in("active.txt") or "")
    if board is None:
        before = folder_in("previous.txt")
        board = load(before) if before else None
    return board


if __name__ == "__main__":
    _board = chosen()
    if _board is not None:
        _board.run()  # from here and not from a function: stack is scarce
