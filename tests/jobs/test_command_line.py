"""The contracts of the command line: one JSON document, exit codes, plain sentences, all faults."""

from __future__ import annotations

import shlex
import subprocess
import sys

import pytest

from locum import cli
from locum.cli import build_parser
from locum.cli_commands import COMMANDS
from locum.cli_help import EXAMPLES, FRONT_EXAMPLES, HEADINGS
from locum.errors import Remark


def every_command(commands=COMMANDS, path=()):
    for command in commands:
        here = (*path, command.name)
        if command.children:
            yield from every_command(command.children, here)
        else:
            yield here, command


@pytest.mark.parametrize(("path", "command"), list(every_command()), ids=lambda x: " ".join(x) if isinstance(x, tuple) else "")  # fmt: skip
def test_every_command_has_a_job_that_takes_its_options(path, command):
    import importlib
    import inspect

    module, _, name = command.job.partition(":")
    job = getattr(importlib.import_module(module), name)
    parameters = inspect.signature(job).parameters
    takes_all = any(p.kind is p.VAR_KEYWORD for p in parameters.values())
    for option in command.options:
        flag = option.settings.get("dest") or option.flags[-1].lstrip("-").replace("-", "_")
        assert takes_all or flag in parameters, f"{path}: {name} does not take {flag}"


def test_no_command_is_misuse_without_a_terminal():
    done = subprocess.run([sys.executable, "-m", "locum.cli"], capture_output=True, text=True,
                          stdin=subprocess.DEVNULL, check=False)  # fmt: skip
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_misuse_is_exit_2_and_still_one_document(locum):
    ran = locum("hold")
    assert ran.code == 2
    assert ran.json["refusals"][0]["code"] == "usage"


def test_negative_values_are_values():
    args = build_parser().parse_args(["sensor", "at", "x", "--celsius", "-40", "20"])
    assert args.celsius == [-40, 20]
    assert build_parser().parse_args(["hold", "-10C"]).value == "-10C"


def test_sensor_at_gives_both_directions(locum):
    there = locum("sensor", "at", "coolant_2k5", "--celsius", "-40", "20")
    assert there.code == 0
    assert [p["celsius"] for p in there.json["points"]] == [-40, 20]
    back = locum("sensor", "at", "coolant_2k5", "--ohms", str(there.json["points"][1]["ohms"]))
    assert back.json["points"][0]["celsius"] == pytest.approx(20, abs=1e-6)
    assert there.json["points"][1]["ohms_per_c"] < 0


def test_sensor_fit_writes_a_sheet_that_reads_back(locum, tmp_path):
    points = tmp_path / "points.csv"
    points.write_text("celsius,ohms\n0,5975\n40,1152\n80,308.6\n100,175.7\n")
    out = tmp_path / "mine.toml"
    fitted = locum("sensor", "fit", str(points), "--out", str(out))
    assert fitted.code == 0
    assert fitted.json["kind"] == "ntc"
    assert fitted.json["worst_c"] == pytest.approx(max(map(abs, fitted.json["residuals_c"])))
    again = locum("sensor", "at", str(out), "--celsius", "80")
    assert again.json["points"][0]["ohms"] == pytest.approx(308.6, abs=0.2)


def test_a_bad_points_file_names_every_bad_line(locum, tmp_path):
    points = tmp_path / "points.csv"
    points.write_text("celsius,ohms\n0,5975\n40,oops\n80,308.6\nwarm,175.7\n")
    ran = locum("sensor", "fit", str(points))
    assert ran.code == 1
    assert {"3", "5"} <= {
        w for r in ran.json["refusals"] for w in r["where"].replace(",", " ").split()
    }
    assert ran.json["refusals"][0]["text"] in ran.talk


def test_module_measured_from_an_open_and_one_load(locum):
    """A worked example, by hand: 5.02 V open, 2.37 V with 2400 ohm (1 %), 10 mV half-width."""
    ran = locum("module", "measure", "--open", "5.02", "--load", "2400:2.37")
    assert ran.code == 0
    assert ran.json["rth_ohm"] == pytest.approx(2683.5, abs=0.5)
    assert ran.json["u_rth_ohm"] == pytest.approx(20.7, abs=0.3)


def test_a_high_pull_up_is_refused_with_its_figures_and_accepted_for_listening(locum):
    ran = locum("module", "measure", "--open", "12.1", "--load", "2400:8")
    assert ran.code == 1
    assert ran.json["refusals"]
    assert ran.json["rth_ohm"] > 0
    assert (
        locum("module", "measure", "--open", "12.1", "--load", "2400:8", "--listen-only").code == 0
    )


def test_verdict_of_two_rates(locum):
    """3 in 10 h, then none in 10 h: p 0.125; 17.14 quiet hours, by the exact formulas."""
    ran = locum("verdict", "--before", "3/10h", "--after", "0/10h")
    assert ran.json["p_value"] == pytest.approx(0.125)
    assert ran.json["quiet_hours_needed"] == pytest.approx(17.144, abs=1e-3)
    assert ran.json["rate_before"]["high"] == pytest.approx(0.87673, abs=1e-5)
    assert locum("verdict", "--before", "3/10", "--after", "0/10drives").code == 2


def test_profile_check_of_a_csv_with_named_columns(locum, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("run_s,oil\n0,20\n100,30\n200,35\n")
    ran = locum("profile", "check", str(log), "--sensor", "coolant_2k5", "--time-column", "run_s",
                "--value-column", "oil")  # fmt: skip
    assert ran.code == 0
    assert ran.json["ok"] is True
    assert ran.json["seconds"] == 200
    assert ran.json["worst_error_c"] <= 0.05
    assert {"board_assumed", "pull_up_assumed"} <= {w["code"] for w in ran.json["warnings"]}


def test_profile_out_of_reach_names_the_limit_that_binds(locum, tmp_path):
    profile = tmp_path / "hot.toml"
    profile.write_text(
        'schema = 1\nunit = "celsius"\n[[segment]]\nhold = {at = 200, minutes = 1}\n'
    )
    ran = locum("profile", "check", str(profile), "--sensor", "coolant_2k5")
    assert ran.code == 1
    assert any("66 ohm" in r["text"] for r in ran.json["refusals"])


def test_all_faults_of_a_profile_at_once_with_their_lines(locum, tmp_path):
    profile = tmp_path / "bad.toml"
    profile.write_text(
        'schema = 1\nunit = "kelvin"\n[[segment]]\nhold = {at = "warm", minutes = 5}\n'
        "[[segment]]\nrump = {to = 3}\n[[segment]]\nsteps = {at = [20, 30]}\n"
    )
    ran = locum("profile", "check", str(profile))
    assert ran.code == 1
    text = " ".join(r["where"] for r in ran.json["refusals"])
    for line in (2, 4, 5, 8):
        assert f"line {line}" in text, text


def test_a_missing_file_is_exit_3(locum):
    assert locum("sensor", "at", "./nowhere.toml", "--celsius", "20").code == 3


def test_an_unknown_name_suggests_the_nearest(locum):
    ran = locum("sensor", "at", "coolant_2k", "--celsius", "20")
    assert ran.code == 1
    assert "coolant_2k" in ran.json["refusals"][0]["remedy"]


@pytest.mark.parametrize("path", [" ".join(path) for path, _ in every_command()])
def test_every_command_has_an_example_that_it_understands(path):
    assert EXAMPLES[path]
    for line in EXAMPLES[path]:
        args = build_parser().parse_args(shlex.split(line))
        assert line.startswith(path)
        assert args.command.name == path.split()[-1]


def test_examples_and_headings_hold_the_commands_there_are_and_no_others():
    assert set(EXAMPLES) == {" ".join(path) for path, _ in every_command()}
    listed = [name for _, names in HEADINGS for name in names]
    assert sorted(listed) == sorted(command.name for command in COMMANDS)
    for line in FRONT_EXAMPLES:
        build_parser().parse_args(shlex.split(line))


def pages(commands=COMMANDS, path=()):
    yield path
    for command in commands:
        yield from pages(command.children, (*path, command.name))


@pytest.mark.parametrize("path", list(pages()), ids=" ".join)
def test_help_pages_fit_80_columns_and_break_no_name_off(path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert cli.main([*path, "--help"]) == 0
    page = capsys.readouterr().out
    assert max(len(line) for line in page.splitlines()) <= 80
    assert "example" in page or "page of its own" in page
    listing = page[page.index("\n\n") :]
    names = [line.split() for line in listing.splitlines() if line.startswith("    ")]
    assert not any(len(words) == 1 and words[0] in {p[-1] for p in pages() if p} for words in names)


def test_bytes_that_are_no_letters_are_misuse(locum, book):
    ran = locum("case", "new", "\udcff", "--casebook", book)
    assert (ran.code, ran.json["refusals"][0]["code"]) == (2, "letters")


@pytest.mark.parametrize("words", [("case", "new", "Van", "--casebook", "x" * 300),
                                   ("sensor", "at", "x" * 300, "--celsius", "20")])  # fmt: skip
def test_a_path_the_system_will_not_have_is_file_trouble(locum, words):
    ran = locum(*words)
    assert (ran.code, ran.json["error"]) == (3, "FileTrouble")
    assert "name too long" in ran.json["refusals"][0]["found"].lower()


@pytest.mark.parametrize("typed", ["9" * 400 + "/1h", "1/1e999h", "2000000/1h", "1/1e9h", "nan/1h"])
def test_numbers_beyond_all_measure_are_misuse(locum, typed):
    assert locum("verdict", "--before", typed, "--after", "0/10h").code == 2


def test_rates_that_cannot_be_read_are_told_of_together(locum):
    ran = locum("verdict", "--before", "a", "--after", "b/10h")
    assert (ran.code, [r["found"] for r in ran.json["refusals"]]) == (2, ["'a'", "'b/10h'"])


def test_what_is_lacking_is_named(locum):
    ran = locum("sweep", "20C")
    assert ran.code == 2
    assert (ran.json["refusals"][0]["wanted"], ran.json["refusals"][0]["found"]) == ("TO", "nothing of it")  # fmt: skip


def test_a_question_needs_no_full_stop():
    asked = Remark("x", "a", "b", "c", "did you mean warm_hold?")
    assert asked.text == "a: wanted b, found c. Did you mean warm_hold?"
    assert Remark("x", "a", "b", "c", "try again").text == "a: wanted b, found c. Try again."
