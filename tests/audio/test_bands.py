import re
from pathlib import Path

import pytest

from groovewright.audio import Channel, Kind, Law, Replay, band_list_toml, parse_band_list, read_band_list
from groovewright.audio.bands import BAND_KEYS, TOP_KEYS
from groovewright.quantities import InputError

DOCS = Path(__file__).parents[2] / "docs" / "listen.md"

LIST = """
name = "Side A"
speed_rpm = 45
reference_cm_per_s = 5.0
equaliser = "none"

[[band]]
name = "left"
kind = "tone"
channel = "left"
start_s = 20
end_s = 30
frequency_hz = 1000
level_db = 6.0206
groove_radius_mm = 100

[[band]]
kind = "sweep"
channel = "vertical"
start_s = 1
end_s = 15.5
sweep_start_hz = 25
sweep_end_hz = 4
"""


def test_a_list_is_read_with_its_levels_in_cm_per_s_and_its_bands_in_order():
    bands = parse_band_list(LIST)
    assert (bands.speed_rpm, bands.replay, bands.listed) == (45.0, Replay.NONE, True)
    first, second = bands.bands
    assert (first.kind, first.channel, first.law) == (Kind.SWEEP, Channel.VERTICAL, Law.CONSTANT_VELOCITY)
    assert second.level_cm_per_s == pytest.approx(10.0, abs=1e-3)
    assert (second.name, second.frequency_hz, second.groove_radius_mm) == ("left", 1000.0, 100.0)


def test_a_list_that_is_written_comes_back_the_same():
    bands = parse_band_list(LIST)
    assert parse_band_list(band_list_toml(bands)) == bands
    assert bands.bands[1].level_cm_per_s == pytest.approx(10.0, abs=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('kind = "tone"', 'kind = "tome"', "did you mean 'tone'"),
        ('channel = "left"', 'channel = "port"', "allowed: left, right, lateral, vertical"),
        ("frequency_hz = 1000", "", "a tone needs frequency_hz"),
        ("end_s = 30", "end_s = 20.1", "at least 0.5 s apart"),
        ("end_s = 30", "", "needs start_s and end_s"),
        ("groove_radius_mm = 100", "groove_radius_mm = 4", "Is 4 in inches"),
        ("frequency_hz = 1000", "frequency_hz = nan", "finite"),
        ("frequency_hz = 1000", 'frequency_hz = "high"', "not a number"),
        ("level_db = 6.0206", "level_db = 0\nlevel_cm_per_s = 5", "not both"),
        ("frequency_hz = 1000", "frequenzy_hz = 1000", "did you mean 'frequency_hz'"),
        ('equaliser = "none"', 'equaliser = "off"', "allowed: replay, replay-1976, none"),
        ("speed_rpm = 45", "speed_rpm = 4500", "platter speed"),
        ("[[band]]", "[[bond]]", "did you mean 'band'"),
        ('name = "Side A"', "name = ", "is not TOML"),
    ],
)
def test_a_mistake_in_a_list_is_named_with_what_would_work(old, new, words):
    with pytest.raises(InputError, match=re.escape(words)):
        parse_band_list(LIST.replace(old, new))


def test_bands_of_one_name_are_told_apart():
    twice = LIST + LIST[LIST.index("[[band]]") : LIST.rindex("[[band]]")].replace(
        "start_s = 20", "start_s = 21"
    )
    assert sorted(band.name for band in parse_band_list(twice).bands) == ["band 2", "left", "left (2)"]


def test_an_empty_list_and_a_missing_file_are_refused(tmp_path):
    with pytest.raises(InputError, match="lists no band"):
        parse_band_list("speed_rpm = 45")
    with pytest.raises(InputError, match="does not exist"):
        read_band_list(tmp_path / "none.toml")


def test_the_docs_name_every_key_and_word_and_their_example_can_be_read():
    text = DOCS.read_text(encoding="utf-8")
    words = [word.value for words in (Kind, Channel, Law, Replay) for word in words]
    for key in (*BAND_KEYS, *TOP_KEYS, *words):
        assert f"`{key}`" in text, key
    example = text.split("```toml")[1].split("```")[0]
    assert len(parse_band_list(example).bands) >= 4
