import pytest

from locum.errors import Misuse
from locum.jobs.circuit import open_sensor
from locum.jobs.offers import read_c
from locum.jobs.typed import Act, act_of
from locum.settings import give_settings


@pytest.mark.parametrize(
    ("line", "act"),
    [
        ("80", Act("hold", ("80",), "80.0 C")),
        ("hold 320ohm", Act("hold", ("320ohm",), "320 ohm")),
        ("now", Act("hold", ("now",), "what the sensor says now")),
        ("stay", Act("stay", (), "stay")),
        ("Follow", Act("follow", (), "follow")),
        ("open 300", Act("contact", ("cold", 300), "open 300 ms")),
        ("short", Act("contact", ("hot", 500), "short 500 ms")),
        ("sweep 20 90", Act("sweep", ("20", "90", 10.0), "20.0 C to 90.0 C and back")),
        ("replay warm_hold", Act("replay", ("warm_hold",), "warm_hold")),
        (
            "glitch my glitch.csv",
            Act("glitch", (("my glitch.csv",),), "captured glitch my glitch.csv"),
        ),
        ("glitch 3.csv", Act("glitch", (("3.csv",),), "captured glitch 3.csv")),
        ("glitch wet_day", Act("glitch", (("wet_day",),), "captured glitch wet_day")),
        ("glitch 50 200", Act("glitch", ((50, 200),), "glitches of 50, 200 ms")),
    ],
)
def test_one_line_is_one_act(line, act):
    assert act_of(line) == act


def test_a_bare_number_is_told_in_the_unit_it_was_understood_in():
    assert act_of("180", "fahrenheit").words == "180.0 F"
    assert act_of("82C", "fahrenheit").words == "179.6 F"
    assert act_of("sweep 68 194", "fahrenheit").words == "68.0 F to 194.0 F and back"
    assert act_of("up 9", "fahrenheit", told_c=80.0).words == "up 9, to 185.0 F"


def test_up_and_back_are_from_what_the_module_is_told():
    assert act_of("up 2", told_c=80.0).arguments == ("82.00C",)
    assert act_of("back 2", told_c=80.0).arguments == ("78.00C",)
    assert act_of("up 9", "fahrenheit", told_c=80.0).arguments == ("85.00C",)


@pytest.mark.parametrize("line", ["", "warm", "up", "up two", "open 0", "sweep 20", "hold"])
def test_what_is_no_act_is_refused_with_examples(line):
    with pytest.raises(Misuse):
        act_of(line, told_c=80.0)


def test_up_without_a_known_value_says_so():
    with pytest.raises(Misuse, match="known present value"):
        act_of("up 2")


def test_lengths_that_no_glitch_has_are_refused_before_anything_connects():
    for line in ("glitch 0", "glitch 300 90000"):
        with pytest.raises(Misuse):
            act_of(line)


@pytest.fixture
def fahrenheit(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    give_settings(["unit=fahrenheit"])
    yield
    give_settings([])


@pytest.mark.usefixtures("fahrenheit")
def test_bare_readings_are_in_the_settings_unit_wherever_a_sensor_is_told():
    """68 degF is 20 degC, 176 degF is 80 degC; a letter always wins."""
    for words in ("68=2.5k,176=310", "20C=2.5k,80C=310", "68F=2.5k,176=310"):
        sensor = open_sensor(words)
        assert sensor.curve.temperature_c(2500.0) == pytest.approx(20.0, abs=1e-6)
        assert sensor.curve.temperature_c(310.0) == pytest.approx(80.0, abs=1e-6)
        assert "# reading: 20 degC" in sensor.text, "what is kept says its unit"
    assert read_c("68=2.5k,176=310") == pytest.approx((20.0, 80.0))
