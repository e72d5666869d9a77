"""Changeover of the relay, edges of open and short, and the time a trip takes."""

from __future__ import annotations

import numpy as np
from circuit.model import Circuit, catalogue
from circuit.spice import Elements

from .bench import believed_c, module, ohm_seen
from .deck import Deck, Row, crossing

FILTER_S = 0.010
"""A quick module's input filter, with figures common in the trade: slower modules see less."""
MATCHED_OHM = 231.0
"""Curve B at 90 degC; the stand-in is walked there before the relay moves."""
WIPER_OHM = 4 * (MATCHED_OHM - 36.0)


def rows(circuit: Circuit) -> list[Row]:
    return [*changeover_rows(circuit), *edge_rows(circuit), *trip_rows(circuit)]


def changeover_deck(circuit: Circuit, relay: str, pull_up_ohm: float) -> Deck:
    """Real sensor to a stand-in of the same ohms and back, 3 ms travel, seen through 10 ms."""
    changed = circuit.changed("K1", kind=catalogue()[relay])
    pots = {ref: (WIPER_OHM, WIPER_OHM) for ref in ("U1", "U2")}
    states = {"K1": "bench", "K2": "on", "K3": "off", **pots}
    elements = Elements(changed, states).parts(
        "K1", "F2", "RS1", "K2", "K3", "D8", "D9", "U1", "U2"
    )
    made = Deck(
        f"changeover, {relay.split('_')[1]}, pull-up {pull_up_ohm:g} ohm",
        elements.text(),
        ["v_vpot vpot 0 5.3", f"r_sensor sens 0 {MATCHED_OHM}", "r_ohm ohm 0 1e8",
         *module(pull_up_ohm), "v_k1_pos pos_k1 0 pwl(0 0 20m 0 23m 1 120m 1 123m 0)",
         "r_filter line filtered 1e6", f"c_filter filtered 0 {FILTER_S * 1e-6:g}",
         "c_cable line 0 1n"],
    )  # fmt: skip
    made.tran("50u 200m 0 50u", ["v(line)", "v(filtered)"])
    return made


def changeover_rows(circuit: Circuit) -> list[Row]:
    judged = []
    for relay, limit_k in (("relay_mbb", 6.0), ("relay_bbm", 85.0)):
        for pull_up in (1000.0, 10000.0):
            time, line, seen = changeover_deck(circuit, relay, pull_up).run()
            # the filter's 1 Mohm takes a little: compare with its own steady value
            celsius = believed_c("B", ohm_seen(5.0, pull_up, seen[5:]))
            worst = celsius[int(np.argmax(np.abs(celsius - 90.0)))]
            judged.append(
                Row(
                    f"changeover at 90 degC, {relay.split('_')[1]}, pull-up {pull_up / 1e3:g} kohm",
                    float(abs(worst - 90.0)), "K", high=limit_k,
                    note=f"reads {worst:.0f} degC for some ms"
                    + ("" if limit_k < 10 else ": recorded as ours; not for coolant"),
                )
            )  # fmt: skip
            end = float(ohm_seen(5.0, pull_up, np.interp(0.11, time, line)))
            if limit_k < 10:
                judged.append(Row(f"stand-in after the changeover, {pull_up / 1e3:g} kohm", end,
                                  "ohm", MATCHED_OHM * 0.98, MATCHED_OHM * 1.02))  # fmt: skip
    rest = Elements(circuit, {"K1": "rest"}).parts("K1", "D8", "D9")
    still = Deck("real sensor at rest", rest.text(),
                 [f"r_sensor sens 0 {MATCHED_OHM}", "r_no1 no1 0 1e6", "r_ohm ohm 0 1e6", *module()])  # fmt: skip
    still.op([], ["v(line)"])
    ohm = float(ohm_seen(5.0, 1000.0, still.run()[0, 0]))
    return [Row("relay at rest: what the module sees of a 231 ohm sensor", ohm, "ohm", 230.5, 231.5),
            *judged]  # fmt: skip


def edge_deck(circuit: Circuit, signal: str) -> Deck:
    """CONN or SHORT switched off, on, off by the carrier's pin, standing in at 2 kohm."""
    states = {"K1": "energised", "K2": "led", "K3": "led", "U1": (8e3, 8e3), "U2": (8e3, 8e3)}
    elements = Elements(circuit, states, "high").blocks("contacts").parts("U1", "U2", "Q11")
    idle = 3.3 if signal == "conn" else 0.0
    other = "short" if signal == "conn" else "conn"
    made = Deck(
        f"edges made by {signal.upper()}",
        elements.text(),
        ["v_vpot vpot 0 5.3", "v_logic n3v3 0 3.3", "v_trip trip 0 3.3", "r_ohm ohm 0 1e8",
         "r_sens sens 0 1e6", *module(1000.0), "c_cable line 0 1n", "r_idle coil 0 1e6",
         f"v_other {other} 0 {3.3 - idle if other == 'conn' else 0}",
         f"v_{signal} {signal} 0 pwl(0 {idle} 20m {idle} 20.001m {3.3 - idle} 40m {3.3 - idle}"
         f" 40.001m {idle})"],
    )  # fmt: skip
    if other == "conn":
        made.bench = [
            line.replace("v_other conn 0 3.3", "v_other conn 0 3.3") for line in made.bench
        ]
    made.tran("10u 60m 0 10u", ["v(line)", "i(v_k2_led)", "i(v_k3_led)"])
    return made


def edge_rows(circuit: Circuit) -> list[Row]:
    judged = []
    time, line, led, _ = edge_deck(circuit, "conn").run()
    on_ma = float(np.interp(15e-3, time, led)) * 1e3
    levels = [float(np.interp(t, time, line)) for t in (19e-3, 39e-3, 59e-3)]
    opens = crossing(time, line, (levels[0] + levels[1]) / 2, 20e-3) - 20e-3
    closes = crossing(time, line, (levels[1] + levels[2]) / 2, 40e-3) - 40e-3
    judged += [
        Row("open (K2): LED current, 1.45 V threshold", on_ma, "mA", 4.0, 10.0,
            note="3 mA is the part's own maximum to operate"),
        Row("open: line gone after the order", opens * 1e3, "ms", high=1.0),
        Row("open: line back after the order", closes * 1e3, "ms", high=3.0),
        Row("open: line voltage against Voc 5 V", levels[1], "V", low=4.9),
    ]  # fmt: skip
    time, line, _, _ = edge_deck(circuit, "short").run()
    levels = [float(np.interp(t, time, line)) for t in (19e-3, 39e-3, 59e-3)]
    starts = crossing(time, line, (levels[0] + levels[1]) / 2, 20e-3) - 20e-3
    ends = crossing(time, line, (levels[1] + levels[2]) / 2, 40e-3) - 40e-3
    judged += [
        Row("short (K3): line down after the order", starts * 1e3, "ms", high=3.0),
        Row("short: line back after the order", ends * 1e3, "ms", high=1.0),
        Row("short: line voltage on a 1 kohm pull-up", levels[1] * 1e3, "mV", high=50.0,
            note="the narrowest limit read in makers' texts is 50 mV"),
    ]  # fmt: skip
    return judged


def trip_deck(circuit: Circuit) -> Deck:
    """The line goes from 2.5 V to 14.5 V: comparator, K2 and the relay's coil by themselves."""
    states = {"K1": "coil", "K2": "led", "K3": "off", "U1": (8e3, 8e3), "U2": (8e3, 8e3)}
    elements = Elements(circuit, states, "low").blocks("contacts", "coil", "node")
    elements.parts("U1", "U2", "D1", "D2", "C4", "D7", "R3")
    made = Deck(
        "trip by 14.5 V on the line",
        elements.text(),
        ["v_usb vbus 0 5", "v_logic n3v3 0 3.3", "r_vpot vpot 0 2k", "i_vpot 0 vpot 2.65m",
         "v_conn conn 0 3.3", "v_short short 0 0", "v_relay relay 0 3.3", "r_thr thr_div 0 470k",
         "v_heart heart 0 pulse(0 3.3 0 1u 1u 5m 10m)", "r_ohm ohm 0 1e8", "r_sens sens 0 2k",
         "r_adc vref 0 30k", *module(1000.0), ".model touch sw(vt=0.5 vh=0 ron=0.05 roff=1e12)",
         "s_touch bat line touch 0 touch", "v_bat bat 0 14.5",
         "v_touch touch 0 pwl(0 0 100m 0 100.001m 1)"],
    )  # fmt: skip
    made.tran("20u 130m 0 20u", ["v(line)", "v(trip)", "v(g_k2)", "v(pos_k1)", "v(coil_n)"])
    return made


def trip_rows(circuit: Circuit) -> list[Row]:
    time, _, trip, open_k2, relay, kick = trip_deck(circuit).run()
    fault = 100e-3
    times = [crossing(time, signal, level, fault) - fault
             for signal, level in ((trip, 1.0), (open_k2, 0.5), (relay, 0.02))]  # fmt: skip
    before = float(np.interp(99e-3, time, relay))
    return [
        Row("relay energised before the trip", before, "1", low=0.98),
        Row("trip: comparator low after 14.5 V came", times[0] * 1e3, "ms", high=0.3),
        Row("trip: stand-in disconnected (K2)", times[1] * 1e3, "ms", high=1.0,
            note="the 1 ms that was assumed"),
        Row("trip: coil's kick at Q6, drain", float(kick[time > fault].max()), "V", high=25.0,
            note="30 V part"),
        Row("trip: relay at rest", times[2] * 1e3, "ms", high=15.0),
        *threshold_rows(circuit),
    ]  # fmt: skip


def threshold_deck(circuit: Circuit, logic_v: float, usb_v: float) -> Deck:
    elements = Elements(circuit).blocks("node").parts("R3")
    made = Deck(
        "trip threshold",
        elements.text(),
        [f"v_usb vbus 0 {usb_v}", f"v_logic n3v3 0 {logic_v}", "v_line line 0 pwl(0 4 0.3 7)",
         "r_thr thr_div 0 470k", "r_adc vref 0 30k"],
    )  # fmt: skip
    made.tran("0.2m 0.3", ["v(line)", "v(trip)"])
    return made


def threshold_rows(circuit: Circuit) -> list[Row]:
    found = []
    for logic_v, usb_v in ((3.23, 4.4), (3.37, 5.25)):
        time, line, trip = threshold_deck(circuit, logic_v, usb_v).run()
        when = crossing(time, trip, 1.0)
        found.append(float(np.interp(when, time, line)) if np.isfinite(when) else float("nan"))
    return [
        Row("trip threshold, 3.3 V -2 %, USB 4.4 V", found[0], "V", low=5.4,
            note="above the highest Voc that is accepted, 5.3 V"),
        Row("trip threshold, 3.3 V +2 %", found[1], "V", high=6.0),
    ]  # fmt: skip
