"""An invented case, whole: a parcel van whose converter clutch lets go at random."""

import math

import pytest

from locum.report.data import (
    BudgetRow,
    CaseReport,
    ComplaintFacts,
    CountFacts,
    CurveFacts,
    DriveFacts,
    EntryFacts,
    FollowUpFacts,
    FoundFacts,
    GlitchFacts,
    HandBackFacts,
    ModuleFacts,
    ProofStep,
    QuietFacts,
    RateFacts,
    ReleaseFacts,
    Row,
    StateSpan,
    StretchFacts,
    SuspectFacts,
    TestFacts,
    ThresholdFacts,
    VerdictFacts,
)


def warming(seconds, start_c=14.0):
    """A thinned warm-up: two hundred points."""
    t = [seconds * n / 199 for n in range(200)]
    return t, [88.0 - (88.0 - start_c) * math.exp(-s / 600.0) for s in t]


def drive(number, kind, hours, kick_at, stretches, injected=(), masked=False):
    seconds = hours * 3600.0
    t, c = warming(seconds, 14.0 if number == 0 else 70.0)
    releases = [
        ReleaseFacts(
            at, "converter clutch let go", "none", "", at + 6.0, at - 0.4 if n % 4 else None
        )
        for n, at in enumerate(kick_at)
    ]
    releases += [
        ReleaseFacts(seconds * 0.31, "converter clutch let go", "driver", "brake pressed"),
        ReleaseFacts(seconds * 0.72, "converter clutch let go", "road", "steep hill"),
    ]
    glitches = [
        GlitchFacts(
            seconds * (0.23 + 0.037 * n),
            40.0 * 1.31**n,
            "cold" if n % 5 else "hot",
            "ohmmeter" if masked else "node",
            answered=None if masked else n > 6,
        )
        for n in range(14)
    ]
    glitches += [GlitchFacts(at, ms, "cold", ours=True, answered=ms > 180) for at, ms in injected]
    held = [0.0, *sorted(release.t_s for release in releases), seconds]
    states = [
        StateSpan(a + 6.0, b, "locked", "clutch") for a, b in zip(held, held[1:], strict=False)
    ]
    states += [StateSpan(seconds * 0.4, seconds * 0.47, "on", "fan")]
    return DriveFacts(
        id=f"01M8906QJ45BSG7EBYH5AZWY8{number}",
        kind=kind,
        started_utc=f"2026-10-{number + 3:02d}T07:1{number}:00.000Z",
        seconds=seconds,
        exposure_h=max(hours - 0.25, 0.2) if number == 0 else hours,
        kick_outs=len(kick_at),
        releases=releases,
        glitches=glitches,
        stretches=stretches,
        states=states,
        temperature_s=t,
        temperature_c=c,
        shown_c=[88.0 if masked else None for _ in t],
        lost_ms=1200 if number == 1 else 0,
        warm_after_s=900.0 if number == 0 else None,
        review_version="review 1",
        data_sha256=f"{number}a9f" * 16,
    )


@pytest.fixture
def case() -> CaseReport:
    """One's own copy, to be changed at will."""
    return halden_case()


@pytest.fixture(scope="session")
def whole_case() -> CaseReport:
    return halden_case()


def halden_case() -> CaseReport:
    swap = [
        StretchFacts(1800.0 * n, 1800.0 * (n + 1), "follow" if n % 2 else "real", "still", False)
        for n in range(2)
    ]
    return CaseReport(
        case_id="01M8906QJ2NNC0MY5CGQ4X9KCZ",
        title="Halden P4 parcel van: converter clutch lets go, radiator fan runs at random",
        made_utc="2026-10-19T16:05:00.000Z",
        program="locum 0.1.0",
        workshop="Werkstatt am Kanal",
        technician="M. Ilves",
        opened_utc="2026-10-01T08:00:00.000Z",
        vehicle=[
            Row("vehicle", "Halden P4 parcel van, 2011"),
            Row("transmission", "four-speed automatic with converter clutch"),
            Row("module", "HT-220, software 3.1"),
            Row("odometer", "214 380", "km"),
        ],
        component="coolant sensor circuit",
        complaint=ComplaintFacts(
            "It suddenly revs higher on the motorway and the fan roars, more when it rains.",
            "after about 15 minutes, more in wet weather",
            "three to four times in an hour of motorway",
            "15 min after start and engine above 70 °C",
        ),
        setup=[
            Row("tapped at", "sensor end, own break-out lead"),
            Row("sensor wire", "module pin 14, green/white"),
            Row("return", "module pin 33, brown"),
            Row("board", "reference board, serial 0007, firmware 0.1"),
            Row("calibrated", "2026-09-28 with a bench meter", "", "0.05 % of reading"),
        ],
        curve=CurveFacts(
            "halden-coolant",
            "ab12cd34" * 8,
            "ntc",
            "workshop manual, table 7-3, and three readings",
            {"a": 1.28e-3, "b": 2.36e-4, "c": 9.1e-8},
            [-20.0, 0.0, 20.0, 40.0, 60.0, 80.0, 100.0],
            [15040.0, 5740.0, 2450.0, 1150.0, 591.0, 325.0, 189.0],
            [0.05, -0.09, 0.02, 0.04, -0.02, -0.01, 0.03],
            [Row("cold, 14.2 °C", "3120", "ohm"), Row("hot, 87 °C", "267", "ohm")],
            "inside its band at both temperatures",
        ),
        module=ModuleFacts(5.02, 0.01, 1004.0, 6.0, False, [Row("with 1 000 ohm", "2.506", "V")]),
        budget_at_c=90.0,
        budget=[
            BudgetRow("curve", 0.5, 0.07),
            BudgetRow("network, calibrated", 1.2, 0.15),
            BudgetRow("leads", 0.2, 0.03, "measured by shorting the clips"),
        ],
        expanded_c=0.34,
        drives=[
            drive(
                0,
                "listen",
                1.5,
                [1410.0, 2260.0, 3105.0, 4300.0],
                [StretchFacts(0, 5400, "real", "normal")],
            ),
            drive(
                1,
                "provoke",
                0.5,
                [],
                [StretchFacts(0, 1800, "stand_in", "still")],
                [(200.0 + 150.0 * n, 30.0 * 1.6**n) for n in range(9)],
            ),
            drive(2, "follow", 1.0, [], [StretchFacts(0, 3600, "follow", "normal")], masked=True),
            drive(3, "reverse", 1.0, [700.0, 1500.0], swap),
            drive(4, "quiet", 1.3, [], [StretchFacts(0, 4680, "real", "normal")]),
        ],
        rates=[
            RateFacts("real sensor", 6, 1.75, 1.258, 7.463, "real"),
            RateFacts("following, glitches left out", 0, 1.5, 0.0, 2.459, "follow"),
            RateFacts("after the repair", 0, 17.5, 0.0, 0.211, "real"),
        ],
        counts=[
            CountFacts("real or replayed, seen", 12, 14, 0.572, 0.982, "unmasked"),
            CountFacts("kept from module", 0, 14, 0.0, 0.232, "masked"),
        ],
        thresholds=[ThresholdFacts("clutch may lock", 70.4, 70.1, 70.8, 66.2, 65.8, 66.5, 4)],
        quiet=QuietFacts(
            "exact time, 6 before in 1.75 h",
            "2026-10-08T09:00:00.000Z",
            15.0,
            17.5,
            0,
            6.5,
            0.171,
            0.29,
            "4 to 16 °C, rain on two days",
            True,
        ),
        verdict=VerdictFacts(
            "cured",
            "sensor_side",
            "sensor_circuit",
            "The coolant sensor opened for moments when hot; with a new sensor the fault is gone.",
            0.0008,
            "one-sided, undoubled, exact",
            [
                ProofStep("possible", True, "", "Open reads as cold; cold forbids the clutch."),
                ProofStep("coincident", True, "", "5 of 6 kick-outs within 0.5 s of a glitch."),
                ProofStep(
                    "sufficient",
                    True,
                    "",
                    "Glitches over 180 ms replayed: answered; shorter: not.",
                    [TestFacts("Fisher", "5 of 5 against 0 of 4", 0.0079, "one-sided")],
                ),
                ProofStep(
                    "necessary", True, "", "14 glitches kept from the module: none answered."
                ),
                ProofStep("reversible", True, "", "2 kick-outs on the real sensor again."),
                ProofStep("found", True, "", "Element opens at 92 °C in the oil bath."),
                ProofStep("cured", True, "", "17.5 h without a kick-out; 15 h were asked for."),
            ],
            [
                SuspectFacts("sensor", "guilty", "opens hot, seen on the ohmmeter"),
                SuspectFacts(
                    "harness", "cleared", "node quiet while standing in at the sensor end"
                ),
                SuspectFacts("brake switch", "cleared", "no pulse shorter than 0.4 s"),
            ],
            [],
            "",
            3,
        ),
        found=FoundFacts(
            "The coolant temperature sensor lost contact inside for a fraction of a second when hot.",
            "sensor opens when hot",
            "sensor body, not its connector",
            "kept, labelled with the case number",
            "coolant sensor, lot 26-31",
            "connector left untouched",
            "The sensor was replaced. Nothing else was changed.",
        ),
        hand_back=[
            HandBackFacts(
                "device_removed",
                "stand-in removed, original wiring restored",
                True,
                "2026-10-12",
                "M. Ilves",
            ),
            HandBackFacts("codes_cleared", "codes read and cleared", True, "2026-10-12"),
            HandBackFacts("relearn_done", "relearn done as the service manual asks", None),
            HandBackFacts(
                "follow_up_set", "follow-up date agreed", True, "2026-10-12", "", "9 November"
            ),
        ],
        follow_ups=[FollowUpFacts("2026-10-18T10:00:00.000Z", 6.5, 0, True, "rain twice")],
        entries=[EntryFacts("2026-10-08T09:00:00.000Z", "M. Ilves", "criterion", "15 h quiet")],
        similar="Of 7 similar cases 4 were the connector, 2 the sensor and 1 the module's ground.",
        attachments=[Row("photo", "sensor-before.jpg", "", "3f9a… 412 kB")],
        remarks=["Drive 2 lost 1.2 s of record when the laptop slept."],
    )
