"""The pages: self-contained, safe, the same numbers as the JSON, readable without colour."""

import dataclasses
import json
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from locum.errors import Misuse
from locum.report import CaseReport, numbers, render_case
from locum.report.data import (
    DriveFacts,
    GlitchFacts,
    HandBackFacts,
    QuietFacts,
    RateFacts,
    ReleaseFacts,
    Row,
    StretchFacts,
)

STYLES = ("workshop", "customer")


@pytest.fixture(scope="module")
def pages(whole_case) -> dict[str, str]:
    """Both pages of the whole case; drawn once, because drawing takes a second or two."""
    return {style: render_case(whole_case, style) for style in STYLES}


class Reader(HTMLParser):
    """Collects text, addresses and whether tags close in order."""

    VOID = frozenset({"meta", "br", "img", "hr"})

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.addresses: list[str] = []
        self.open: list[str] = []
        self.ids: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        for name, value in attrs:
            if name in ("href", "src", "action", "srcset", "data", "xlink:href"):
                self.addresses.append(value or "")
            if name == "id":
                self.ids.append(value or "")
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in self.VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] not in ("script", "style"):
            self.words.append(data)


def text_of(page: str) -> str:
    return " ".join(" ".join(Reader(page).words).split())


def data_in(page: str) -> dict:
    return json.loads(page.split('id="case-data">')[1].split("</script>")[0])


@pytest.mark.parametrize("style", STYLES)
def test_page_refers_to_nothing_outside_itself(pages, style):
    page = pages[style]
    assert "http" not in page
    assert "//" not in re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL)
    assert "@import" not in page
    read = Reader(page)
    assert all(address.startswith("#") for address in read.addresses)
    assert {address[1:] for address in read.addresses} <= set(read.ids)
    assert set(re.findall(r"url\(#([^)]+)\)", page)) <= set(read.ids)
    assert len(read.ids) == len(set(read.ids))
    assert read.open == []


@pytest.mark.parametrize("style", STYLES)
def test_page_has_at_least_three_figures(pages, style):
    page = pages[style]
    assert page.count("<svg") >= 3
    assert page.count("<svg") == page.count('role="img" aria-label="')


@pytest.mark.parametrize("style", STYLES)
def test_page_carries_the_same_numbers_as_the_json(case, pages, style):
    page = pages[style]
    assert data_in(page) == json.loads(json.dumps(case.as_dict()))
    assert CaseReport.from_dict(data_in(page)) == case
    assert render_case(case.as_dict(), style) == page


def test_customer_reads_the_demonstrated_limit_in_plain_words(pages):
    words = text_of(pages["customer"])
    assert (
        "In 17.5 hours of the kind of driving in which it used to happen about once in 17" in words
    )
    assert "it did not happen." in words
    assert "With 95 % confidence it now happens less often than once in 5.8 hours" in words
    assert "15 hours without the fault were asked for beforehand; that has been reached" in words
    assert "6.5 hours of this you drove yourself" in words
    assert "Other conditions were not tried" in words
    assert "We will ask you how it went on 9 November" in words
    for hard in ("Thevenin", "p =", "ohm", "SHA", "node", "kick_out", "stand_in"):
        assert hard not in words


@pytest.mark.parametrize(
    ("quiet", "says"),
    [
        (None, "not yet been driven long enough"),
        (QuietFacts(required_h=10, driven_h=4, upper_per_h=0.75), "6 hours are still missing"),
        (QuietFacts(required_h=10, driven_h=4, kick_outs=1, met=False), "not proved cured"),
        (QuietFacts(driven_h=3.0, upper_per_h=1.0), "not a proof"),
        (QuietFacts(required_h=2, driven_h=4, kick_outs=2), "it happened twice"),
    ],
)
def test_customer_is_not_told_more_than_was_shown(case, quiet, says):
    page = render_case(dataclasses.replace(case, quiet=quiet), "customer")
    assert says in text_of(page)


def test_workshop_finds_pins_volts_ohms_and_tests(pages):
    words = text_of(pages["workshop"])
    for fact in (
        "module pin 14, green/white",
        "5.020 V ± 0.020 V",
        "1004 ohm ± 12 ohm",
        "5 of 5 against 0 of 4; p = 0.0079 (one-sided)",
        "70.4 (70.1 to 70.8)",
        "1.26 to 7.46",
        "57 % to 98 %",
        "0:23:30 converter clutch let go",
        "expanded, k = 2",
        "15040",
        "Drive 2 lost 1.2 s of record",
        "node quiet while standing in at the sensor end",
    ):
        assert fact in words, fact


def test_every_kick_out_is_listed_with_its_number(case, pages):
    page = pages["workshop"]
    wanted = sum(r.cause == "none" for drive in case.drives for r in drive.releases)
    assert text_of(page).count("converter clutch let go") == wanted


def test_bare_case_makes_a_page_that_says_what_is_missing():
    bare = CaseReport("01ABC", "just begun")
    for style in STYLES:
        assert "just begun" in text_of(render_case(bare, style))
    assert "Nothing has been repaired yet" in text_of(render_case(bare, "customer"))
    assert "The evidence has not been weighed" in text_of(render_case(bare, "workshop"))


def test_identity_shows_only_where_given(case, pages):
    assert "QX 77" not in pages["workshop"]
    case.drives = case.drives[:1]
    named = dataclasses.replace(case, identity=[Row("plate", "QX 77")])
    assert "QX 77" in text_of(render_case(named, "workshop"))
    assert "QX 77" not in text_of(render_case(named, "customer"))


GOLDEN = Path(__file__).parent / "golden"


def lines_of(page: str) -> str:
    """A page's text, a line for each piece, without its figures (they have a library's ticks)."""
    words = Reader(re.sub(r"<svg.*?</svg>", "", page, flags=re.DOTALL)).words
    return "\n".join(line for piece in words if (line := " ".join(piece.split()))) + "\n"


@pytest.mark.parametrize("style", STYLES)
def test_page_reads_as_it_always_did(pages, style):
    """``python tests/report/write_golden.py`` writes the texts anew; look at what changed."""
    assert lines_of(pages[style]) == (GOLDEN / f"{style}.txt").read_text("utf-8")


EVIL = "</script><script>alert(1)</script><img src=x onerror=alert(1)>\"'&{{ 7*7 }}{% raw %}"


def planted(value):
    """The same object with every text in it made evil."""
    if isinstance(value, str):
        return EVIL + value
    if isinstance(value, list):
        return [planted(item) for item in value]
    if isinstance(value, dict):
        return {EVIL + key: item for key, item in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return type(value)(
            **{f.name: planted(getattr(value, f.name)) for f in dataclasses.fields(value)}
        )
    return value


@pytest.mark.parametrize("style", STYLES)
def test_markup_in_any_text_stays_text(case, style):
    case.drives = case.drives[:2]
    page = render_case(planted(case), style)
    read = Reader(page)
    assert read.open == []
    assert page.count("<script") == 1
    assert "<img" not in page
    assert "49" not in text_of(page).split("alert(1)")[1][:20]
    assert data_in(page)["title"].startswith(EVIL)


texts = st.text(max_size=20)
hours = st.floats(0, 1e4)


@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    drive=st.builds(
        DriveFacts,
        texts,
        texts,
        seconds=st.floats(0, 1e5),
        releases=st.lists(
            st.builds(
                ReleaseFacts, st.floats(0, 1e5), texts, st.sampled_from(["none", "x", "ours"])
            ),
            max_size=3,
        ),
        glitches=st.lists(
            st.builds(
                GlitchFacts,
                st.floats(0, 1e5),
                st.floats(0, 1e6),
                st.sampled_from(["cold", "hot"]),
                ours=st.booleans(),
                answered=st.none() | st.booleans(),
            ),
            max_size=4,
        ),
        stretches=st.lists(
            st.builds(StretchFacts, st.just(0.0), st.floats(0, 1e5), texts), max_size=2
        ),
    ),
    rate=st.builds(
        RateFacts, texts, st.integers(0, 99), hours, st.none() | hours, st.none() | hours
    ),
    quiet=st.none()
    | st.builds(QuietFacts, texts, required_h=st.none() | hours, driven_h=hours, met=st.booleans()),
)
def test_any_numbers_make_both_pages(drive, rate, quiet):
    report = CaseReport("id", "t", drives=[drive], rates=[rate], quiet=quiet)
    for style in STYLES:
        assert Reader(render_case(report, style)).open == []


def test_unknown_page_is_misuse(case):
    with pytest.raises(Misuse, match="workshop or customer"):
        render_case(case, "poster")


def test_no_traffic_lights(pages):
    """No fill or stroke that reads as red, amber or green; each pair differs in lightness too."""
    page = pages["workshop"] + pages["customer"]
    for colour in set(re.findall(r"#([0-9a-f]{6})\b", page)):
        red, green, blue = (int(colour[n : n + 2], 16) for n in (0, 2, 4))
        strong = max(red, green, blue) - min(red, green, blue) > 90
        assert not (strong and blue == min(red, green, blue)), colour


@pytest.mark.skipif(not shutil.which("chromium"), reason="Debian's chromium is not installed")
@pytest.mark.parametrize(("style", "most"), [("customer", 1), ("workshop", 7)])
def test_page_prints_on_few_sheets(pages, style, most, tmp_path):
    (tmp_path / "page.html").write_text(pages[style], "utf-8")
    flags = (
        "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-sync "
        "--disable-background-networking --disable-component-update --no-pdf-header-footer"
    )
    subprocess.run(
        [
            "chromium",
            *flags.split(),
            f"--user-data-dir={tmp_path / 'profile'}",
            f"--print-to-pdf={tmp_path / 'page.pdf'}",
            str(tmp_path / "page.html"),
        ],
        check=True,
        capture_output=True,
        timeout=100,
    )
    pdf = (tmp_path / "page.pdf").read_bytes()
    assert pdf.startswith(b"%PDF")
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
    assert 1 <= pages <= most


def test_hand_back_shows_what_is_left(case):
    left = dataclasses.replace(case, hand_back=[HandBackFacts("codes_cleared", "codes cleared")])
    assert "codes cleared – not done yet" in text_of(render_case(left, "customer"))


def test_an_unproved_circuit_is_not_blamed_without_reserve(case):
    for proof, reserved in (("coincident", True), ("sufficient", True), ("cured", False)):
        case.verdict.proof = proof
        said = text_of(render_case(case, "customer"))
        assert ("it is not proved" in said) is reserved


def test_a_cleared_circuit_is_told_by_what_went_on_without_it(case):
    """Steps of proof that speak of the circuit would read as if it were guilty."""
    case.verdict.culprit, case.verdict.conclusion = "none", "another_input"
    case.verdict.proof = "sufficient"
    case.rates[1].events = 7
    said = text_of(render_case(case, "customer"))
    assert "not to blame" in said
    assert "still happened 7 times in 1.5 hours" in said
    assert "Making the same disturbance on purpose" not in said


def test_who_drove_is_told_to_each_reader(case):
    assert "you drove yourself" in text_of(render_case(case, "customer"))
    assert "the customer drove" in text_of(render_case(case, "workshop"))


def test_without_a_repair_no_cure_is_spoken_of(case):
    case.quiet = case.found = None
    assert "no cure to prove" in text_of(render_case(case, "customer"))


def test_unwatched_time_is_shown_and_said_to_be_left_out(case):
    assert "left out of every count" not in text_of(render_case(case, "workshop"))
    case.drives[0].unwatched_h = 0.4
    assert "left out of every count" in text_of(render_case(case, "workshop"))
    assert "24 min" in text_of(render_case(case, "workshop"))


def test_a_fault_that_came_back_is_never_called_cured(case):
    """Whatever step the verdict reached: a rate that fell is no cure."""
    case.quiet.kick_outs, case.quiet.met = 2, False
    customer = text_of(render_case(case, "customer"))
    assert "it came back, so it is not cured" in customer
    assert "driven without the fault for long enough" not in customer
    assert "driven quietly for the time asked for" not in customer
    assert "The fault came back 2 times after the repair." in text_of(render_case(case, "workshop"))


def test_a_page_in_fahrenheit_has_no_celsius_and_the_same_facts(whole_case):
    """32 degF at 0 degC, 180 degF between freezing and boiling, by definition."""
    case = dataclasses.replace(whole_case, unit="fahrenheit")
    page = render_case(case)
    shown, _, facts = page.partition('<script type="application/json"')
    words = json.dumps(whole_case.as_dict(), ensure_ascii=False)
    told = [x for x in re.findall(r"[\w ,.]*°C", shown) if x.strip() not in words]
    assert told == [], "only words that somebody wrote may still say it"
    assert shown.count("°F") >= 3
    there = dataclasses.replace(whole_case, unit="celsius").as_dict()
    assert {k: v for k, v in case.as_dict().items() if k != "unit"} == {
        k: v for k, v in there.items() if k != "unit"
    }
    assert numbers.in_unit(0.0, "fahrenheit") == 32.0
    assert numbers.in_unit(100.0, "fahrenheit") == 212.0
    assert numbers.in_unit(None, "fahrenheit") is None
    assert facts
