"""Reading and measuring recordings of test tones: what the band list says, what the sound proves."""

from groovewright.audio.assess import Listening, assess
from groovewright.audio.bands import (
    Band,
    BandList,
    Channel,
    Kind,
    Law,
    Replay,
    band_list_toml,
    parse_band_list,
    read_band_list,
)
from groovewright.audio.from_tones import tracking_error_of
from groovewright.audio.gather import BandData
from groovewright.audio.listen import Heard, detected_bands, hear_recording
from groovewright.audio.measures import NUMBER_KEYS, WORD_KEYS, Measure
from groovewright.audio.reader import BlockReader, Recording, open_recording
from groovewright.audio.verdicts import TOLERANCES, State, Verdict, next_move, verdicts

__all__ = [
    "NUMBER_KEYS",
    "TOLERANCES",
    "WORD_KEYS",
    "Band",
    "BandData",
    "BandList",
    "BlockReader",
    "Channel",
    "Heard",
    "Kind",
    "Law",
    "Listening",
    "Measure",
    "Recording",
    "Replay",
    "State",
    "Verdict",
    "assess",
    "band_list_toml",
    "detected_bands",
    "hear_recording",
    "next_move",
    "open_recording",
    "parse_band_list",
    "read_band_list",
    "tracking_error_of",
    "verdicts",
]
