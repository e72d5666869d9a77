"""ngspice solves the same networks: line and branch currents, node voltage, values passed through.

Same model on both sides (resistors and a source), so they must agree within 1e-6.
"""

import re
import shutil
import subprocess

import numpy as np
import pytest

from locum.locations import asset_root
from locum.physics.choose import choose_codes
from locum.physics.circuit import Thevenin, node_v
from locum.physics.network import Network
from locum.sheets.board import read_board

pytestmark = pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed")
NETWORK = Network.from_board(
    read_board((asset_root("hardware/boards") / "reference.toml").read_text())
)
TARGETS = [70.0, 105.4, 240.0, 388.0, 818.2, 2501.0, 8012.0, 30_000.0, 48_442.0]


def netlist(source, codes, out, hot):
    lines = ["* stand-in", f"V1 open 0 DC {source.voc_v!r}", f"RTH open line {source.rth_ohm!r}",
             f"RS line net {NETWORK.series_ohm!r}"]  # fmt: skip
    for index, wiper in enumerate(NETWORK.wipers):
        if not out[index]:
            lines.append(f"RP{index} net 0 {float(wiper.table_ohm[codes[index]])!r}")
    for index, branch in enumerate(NETWORK.hot):
        if hot >> index & 1:
            lines.append(f"RH{index} net 0 {branch.ohm!r}")
    return lines


def solved(lines, wanted):
    """Values that ngspice prints for some expressions, all at once."""
    script = [
        *lines,
        ".control",
        "set numdgt=12",
        "option reltol=1e-9 vntol=1e-12 abstol=1e-15",
        "op",
    ]
    script += [f"print {word}" for word in wanted] + [".endc", ".end"]
    done = subprocess.run(["ngspice", "-b", "/dev/stdin"], input="\n".join(script) + "\n",
                          capture_output=True, text=True, timeout=60, check=False)  # fmt: skip
    found = re.findall(r"^v\(\w+\) = ([-+0-9.eE]+)\s*$", done.stdout, re.M)
    assert len(found) == len(wanted), done.stdout + done.stderr
    return [float(value) for value in found]


@pytest.mark.parametrize("pull_up", [1000.0, 2490.0, 10_000.0])
def test_node_and_branch_currents(pull_up):
    source = Thevenin(5.0, pull_up)
    choice = choose_codes(NETWORK, TARGETS, source)
    for step in range(len(TARGETS)):
        codes, out, hot = choice.codes[step], choice.out[step], int(choice.hot[step])
        inside = [i for i in range(4) if not out[i]]
        wanted = ["v(line)", "v(net)"]
        line, net = solved(netlist(source, codes, out, hot), wanted)
        assert line == pytest.approx(node_v(source, choice.set_ohm[step]), rel=1e-6)
        for wiper in inside:
            current = net / NETWORK.wipers[wiper].table_ohm[codes[wiper]]
            assert current == pytest.approx(choice.wiper_a[step, wiper], rel=1e-6)


def test_values_passed_through_on_the_way():
    source = Thevenin(5.0, 2490.0)
    choice = choose_codes(NETWORK, [2000.0, 300.0, 150.0], source)
    for step in (1, 2):
        codes, out = choice.codes[step - 1].copy(), choice.out[step - 1].copy()
        hot, rank, passed = int(choice.hot[step - 1]), choice.rank[step], []
        order = [int(i) for i in np.argsort(rank, kind="stable")]
        order.insert(int((rank < 2).sum()), -1)
        for item in order:
            if item < 0:
                hot = int(choice.hot[step])
            else:
                codes[item], out[item] = choice.codes[step, item], choice.out[step, item]
            (line,) = solved(netlist(source, codes, out, hot), ["v(line)"])
            passed.append(source.rth_ohm * line / (source.voc_v - line))
        ends = sorted(choice.set_ohm[step - 1 : step + 1])
        far = [max(np.log(p / ends[1]), np.log(ends[0] / p), 0.0) for p in passed]
        assert max(far) == pytest.approx(float(choice.excursion_ln[step]), rel=1e-5, abs=1e-6)
        assert passed[-1] == pytest.approx(choice.set_ohm[step], rel=1e-6)
