"""The board as the jobs see it, against boards that answer by a script."""

import pytest

from locum.errors import BoardFault, LinkTrouble, Refused
from locum.link.answers import ascii_name, parse_identity, parse_status
from locum.link.board import Board


class Script:
    """Answers from a table; everything sent is kept."""

    name = "script"

    def __init__(self, answers):
        self.answers = answers
        self.sent = []
        self.out = b""

    def write(self, data):
        for line in data.split(b"\n"):
            if line:
                self.sent.append(line.decode())
                answer = self.answers.get(line.decode())
                if isinstance(answer, list):
                    answer = answer.pop(0)
                if answer is not None:
                    self.out += answer.encode() + b"\n"

    def read(self, timeout_s):
        data, self.out = self.out, b""
        return data

    def close(self):
        pass


class NoClock:
    def wait(self, seconds):
        pass


def board(**answers):
    table = {"SYST:ERR?": '0,"No error"', "*IDN?": "locum,reference,E66,0.1.0/P1.0/77"}
    return Board(Script(table | answers), NoClock())


def test_identity():
    found = board().identify()
    assert (found.model, found.serial, found.firmware) == ("reference", "E66", "0.1.0")
    assert (found.protocol, found.protocol_minor, found.boot_id) == (1, 0, 77)


@pytest.mark.parametrize(
    "line", ["ACME,1,2,3", "locum,reference,1", "a,b,c,d/e/f", "locum2,a,b,0.1.0/P1.0/5"]
)
def test_another_device_is_told_apart(line):
    with pytest.raises(LinkTrouble, match="locum board"):
        parse_identity(line, "COM3")


def test_a_newer_major_protocol_is_refused_and_a_newer_minor_is_not():
    assert parse_identity("locum,pi,1,0.9/P1.7/3").protocol_minor == 7
    with pytest.raises(LinkTrouble, match="Install the newer locum"):
        parse_identity("locum,pi,1,0.9/P2.0/3")


def test_refusals_and_faults_are_told_apart():
    refusing = board(**{"SYST:ERR?": ['-221,"Settings conflict;stand in refused"', '0,"No error"']})
    with pytest.raises(Refused, match="stand in refused"):
        refusing.stand_in()
    broken = board(**{"SYST:ERR?": ['-330,"Self-test failed"', '0,"No error"']})
    with pytest.raises(BoardFault, match="Self-test failed"):
        broken.stand_in()


def test_every_error_waiting_is_told():
    entries = ['-222,"Data out of range"', '-113,"Undefined header"', '0,"No error"']
    with pytest.raises(Refused) as refusal:
        board(**{"SYST:ERR?": entries}).run()
    assert len(refusal.value.remarks) == 2


def test_silence_is_link_trouble(monkeypatch):
    times = iter(range(100))
    monkeypatch.setattr("locum.link.talk.time.monotonic", lambda: next(times))
    with pytest.raises(LinkTrouble, match="silence"):
        board().ask("NOTHING?")


def test_status_takes_later_fields_and_refuses_fewer():
    numbers = [5, 3, 1, 7, 9, 35000, 2500000, 1, 0, 1, 0, 2, 2400000, 1, 4, 600, 5, 0, 12, 1]
    status = parse_status([*numbers, 99])
    assert (status.state, status.source, status.contact) == ("running", "stand_in", "short")
    assert status.standing_in
    assert status.supply == "host"
    for wrong in (numbers[:-1], [5, 9, *numbers[2:]]):
        with pytest.raises(LinkTrouble):
            parse_status(wrong)


def test_what_is_sent():
    sent = board()
    sent.set_codes((1, 2, 3, 32768), 1, 5000, 4, 99)
    sent.open_(120)
    sent.short_()
    sent.through()
    sent.set_limits(standing_s=60, hot_milliohm=200000, sane_milliohm=(1, 9), follow_rate=300)
    sent.extend_standing(30)
    commands = [line for line in sent.transport.sent if line != "SYST:ERR?"]
    assert commands == [
        "SOUR:CODE 1,2,3,32768,1,5000,4,99",
        "SOUR:CONT OPEN,120",
        "SOUR:CONT SHOR,0",
        "SOUR:CONT THR",
        "OUTP:STAN 60",
        "SENS:RES:HOT 200000,FALL",
        "SENS:RES:SANE 1,9",
        "SOUR:FOLL:RATE 300",
        "OUTP:STAN:EXT 30",
    ]


def test_plan_names_are_made_to_fit():
    assert ascii_name('Aufwärmen "kalt" ' + "x" * 40) == "Aufw_rmen _kalt_ " + "x" * 14
