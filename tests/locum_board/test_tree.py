"""Tree, help, manual and methods are one list."""

import inspect
import re

from locum.locations import asset_root
from locum_board import ladder, records, room, status, steps, tree, words
from locum_board.engine import Engine
from locum_board.player import Player


def manual():
    return (asset_root("firmware_micropython") / "README.md").read_text(encoding="utf-8")


def headers_of(text):
    rows = [line for line in text.split("\n") if re.match(r"\| `[*\[A-Z]", line)]
    return [re.match(r"\| `([^`]+)`", row)[1] for row in rows]


def test_manual_lists_exactly_the_headers(bench):
    answer = bench.ask("SYST:HELP:HEAD?")
    digits = int(answer[1])
    listed = answer[2 + digits :].split()
    assert len(answer[2 + digits :]) + 1 >= int(answer[2 : 2 + digits])
    assert len(listed) == len(set(listed)) > 90
    assert sorted(headers_of(manual())) == sorted(listed)


def test_every_header_is_answered_as_its_line_says(bench):
    """Methods take as many arguments as the tree lets through; what is told as it stands is there."""
    found, talk = tree.Tree(), bench.engine.talk
    for spec in found.headers():
        targets = {found.target(key) for key in words.header_keys(spec)}
        assert len(targets) == 1, spec
        name, *rest = targets.pop().split(" ")
        if name.startswith("="):
            assert all(isinstance(getattr(getattr(talk, name[1:]), r), int) for r in rest), spec
            continue
        if rest == ["block"]:
            rest = []
        takes = inspect.signature(getattr(talk, name))
        for count in {int(number) for number in rest or [0]}:
            takes.bind(*["1"] * count)
        if not any(p.kind is p.VAR_POSITIONAL for p in takes.parameters.values()):
            assert len(takes.parameters) == int(rest[-1] if rest else 0), spec


def test_no_two_headers_share_a_check_sum():
    keys = [key for spec in tree.Tree().headers() for key in words.header_keys(spec)]
    assert len({tree.number_of(key) for key in keys}) == len(set(keys)) == len(keys)
    nodes = {
        form
        for spec in tree.Tree().headers()
        for node in re.sub(r"[\[\]?*]", "", spec).split(":")
        if node
        for form in (node.upper(), words.short(node))
    }
    assert len({tree.number_of(node) for node in nodes}) == len(nodes)
    for node in nodes:
        assert tree.Tree().brief(node) in nodes or node.isupper()


def test_long_and_short_forms_of_all_headers_are_known(bench):
    for spec in tree.Tree().headers():
        if spec.startswith("*"):
            continue
        long = re.sub(r"[\[\]]", "", spec).upper()
        for form in (long, words.header_keys(spec)[0]):
            bench.ask("*CLS")
            if not re.match(r"(DIAG|TRIG|INIT)", form):
                bench.ask(form)
            assert "-113" not in bench.ask("SYST:ERR?"), form


def test_manual_tells_every_error_of_our_own():
    text = manual()
    for line in status.TEXTS.strip().split("\n"):
        number, _, words_of_it = line.partition(" ")
        assert status.text_of(int(number)) == words_of_it
        if int(number) > 0:
            assert f"| {number} | {words_of_it} |" in text


def test_room_is_as_large_as_what_goes_in():
    assert room.PLAN_BYTES == steps.BLOCK_BYTES
    assert room.LADDER_BYTES == ladder.BLOCK_BYTES
    assert room.SLOT_BYTES == records.SLOT_BYTES
    assert room.load() is Engine
    assert len(room.Room().record) == 6000 * 8


def test_player_makes_all_its_attributes_at_once(new_bench):
    """A later one would allocate in the interrupt."""
    before = set(vars(new_bench(settle=False).player))
    bench = new_bench().bring("running")
    bench.run(3000)
    bench.player.trip(6)
    bench.run(100)
    assert set(vars(bench.player)) == before
    assert isinstance(bench.player, Player)
