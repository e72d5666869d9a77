"""Every number that a verdict can carry has words of its own."""

import ast
from pathlib import Path

import locum.verdict
from locum.report.number_words import NUMBERS, number_words


def named_in(tree):
    """First arguments of ``Number(...)`` and of what makes one by name, where written out."""
    for call in ast.walk(tree):
        if not isinstance(call, ast.Call) or not call.args:
            continue
        function = getattr(call.func, "id", "")
        first = call.args[0]
        if function in ("Number", "_arms") and isinstance(first, ast.Constant):
            yield first.value


def test_no_number_reaches_a_reader_by_its_code_name():
    names = set()
    for path in Path(locum.verdict.__file__).parent.glob("*.py"):
        names |= set(named_in(ast.parse(path.read_text())))
    assert len(names) > 10
    assert names - set(NUMBERS) == set()


def test_words_hold_no_code():
    assert all("_" not in words for words in NUMBERS.values())
    assert number_words("some_new_number") == "some new number"
