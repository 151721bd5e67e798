"""Reading and measuring recordings of test tones: what the band list says, what the sound proves."""

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
from groovewright.audio.reader import BlockReader, Recording, open_recording

__all__ = [
    "Band",
    "BandList",
    "BlockReader",
    "Channel",
    "Kind",
    "Law",
    "Recording",
    "Replay",
    "band_list_toml",
    "open_recording",
    "parse_band_list",
    "read_band_list",
]
