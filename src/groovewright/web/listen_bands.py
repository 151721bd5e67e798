"""The band list of a recording, as a person confirms and corrects it: one band at a time, or as text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from groovewright.audio import Band, BandList, Channel, Kind, Law, Replay, band_list_toml, parse_band_list
from groovewright.quantities import InputError
from groovewright.web.fields import Field
from groovewright.web.stage_page import FilledField

LONGEST_TEXT = 60_000

KINDS = (
    (Kind.TONE.value, "tone"),
    (Kind.TWO_TONES.value, "two tones"),
    (Kind.SWEEP.value, "sweep"),
    (Kind.NOISE.value, "noise"),
    (Kind.SILENCE.value, "silent groove"),
    (Kind.OTHER.value, "something else: leave out"),
)
CHANNELS = (
    (Channel.UNKNOWN.value, "not known"),
    (Channel.LEFT.value, "left only"),
    (Channel.RIGHT.value, "right only"),
    (Channel.LATERAL.value, "both, sideways (lateral)"),
    (Channel.VERTICAL.value, "both, up and down (vertical)"),
)
LAWS = (
    (Law.EQUALISED.value, "flat after the replay equaliser"),
    (Law.CONSTANT_VELOCITY.value, "constant velocity"),
    (Law.CONSTANT_AMPLITUDE.value, "constant amplitude"),
)
REPLAYS = (
    (Replay.EQUALISED.value, "the replay equaliser (a phono input)"),
    (Replay.EQUALISED_1976.value, "the same with its low cut of 1976"),
    (Replay.NONE.value, "nothing: straight from the cartridge"),
)

FIELDS = {
    "name": Field("Name"),
    "kind": Field("What it is", choices=KINDS),
    "channel": Field("Channel", choices=CHANNELS),
    "start_s": Field("From", "s", 0.5),
    "end_s": Field("To", "s", 0.5),
    "frequency_hz": Field("Frequency", "Hz", 10.0),
    "second_frequency_hz": Field("Upper frequency", "Hz", 10.0),
    "sweep_start_hz": Field("Sweep from", "Hz", 1.0),
    "sweep_end_hz": Field("Sweep to", "Hz", 1.0),
    "level_cm_per_s": Field("Level, peak", "cm/s", 0.5, hint="as the record's sleeve says"),
    "second_level_cm_per_s": Field("Level of the upper", "cm/s", 0.5),
    "groove_radius_mm": Field("Groove radius", "mm", 1.0, hint="spindle to groove; for the off-centre distance"),
    "law": Field("How it was cut", choices=LAWS),
}  # fmt: skip

ALWAYS = ("name", "kind", "channel", "start_s", "end_s")
OF_KIND = {
    Kind.TONE: ("frequency_hz", "level_cm_per_s", "groove_radius_mm"),
    Kind.TWO_TONES: (
        "frequency_hz", "second_frequency_hz", "level_cm_per_s", "second_level_cm_per_s", "groove_radius_mm",
    ),
    Kind.SWEEP: ("sweep_start_hz", "sweep_end_hz", "level_cm_per_s", "groove_radius_mm", "law"),
    Kind.NOISE: ("level_cm_per_s", "groove_radius_mm", "law"),
}  # fmt: skip
"""What a band of a kind is asked for beside the rest."""

ENUMS = {"kind": Kind, "channel": Channel, "law": Law}


def band_fields(band: Band) -> tuple[FilledField, ...]:
    """Return the fields of one band's form."""
    names = (*ALWAYS, *OF_KIND.get(band.kind, ()))
    return tuple(FilledField(f"band.{name}", FIELDS[name], _shown(getattr(band, name))) for name in names)


def _shown(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float | int):
        return f"{value:.3f}".rstrip("0").rstrip(".")
    return str(getattr(value, "value", value))


def with_band(bands: BandList, place: int, typed: Mapping[str, str]) -> BandList:
    """Return the list with one band as it was typed; fields that were not in the form stay.

    Raises
    ------
    InputError
        There is no such band, or a value is not allowed.
    """
    if not 0 <= place < len(bands.bands):
        raise InputError(f"there is no band {place + 1}; the list has {len(bands.bands)}")
    changed: dict[str, Any] = {}
    for name, text in typed.items():
        if name not in FIELDS:
            continue
        field = FIELDS[name]
        if name in ENUMS:
            allowed = [value for value, _ in field.choices]
            if text not in allowed:
                raise InputError(f"{field.label}: '{text[:40]}'; allowed: {', '.join(allowed)}")
            changed[name] = ENUMS[name](text)
        else:
            changed[name] = text.strip()[:80] if name == "name" else _number(field.label, text)
    band = replace(bands.bands[place], **changed)
    if band.start_s is None or band.end_s is None:
        raise InputError("From and To: a band needs both, in seconds from the start of the recording")
    changed_list = (*bands.bands[:place], band, *bands.bands[place + 1 :])
    return checked_list(band_list_toml(replace(bands, bands=changed_list)))


def without_band(bands: BandList, place: int) -> BandList:
    """Return the list without one band.

    Raises
    ------
    InputError
        There is no such band, or it is the last one.
    """
    if not 0 <= place < len(bands.bands) or len(bands.bands) == 1:
        raise InputError("a list keeps at least one band")
    return replace(bands, bands=bands.bands[:place] + bands.bands[place + 1 :])


def checked_list(text: str) -> BandList:
    """Return the band list of a TOML text; errors as `parse_band_list`, and where it is too long."""
    if len(text) > LONGEST_TEXT:
        raise InputError(f"the list has {len(text)} characters; allowed are {LONGEST_TEXT}")
    return parse_band_list(text)


def band_words(band: Band) -> str:
    """Return what a band is, in a few words."""
    kind = dict(KINDS)[band.kind.value].partition(":")[0]
    channel = dict(CHANNELS)[band.channel.value].partition(" (")[0]
    ends = [f"{hz:g}" for hz in (band.sweep_start_hz, band.sweep_end_hz) if hz is not None]
    tones = [f"{hz:g}" for hz in (band.frequency_hz, band.second_frequency_hz) if hz is not None]
    hertz = f" {' to '.join(ends)} Hz" if ends else f" {' and '.join(tones)} Hz" if tones else ""
    said = (
        ""
        if band.kind is Kind.SILENCE
        else f", channel {channel}"
        if band.channel is Channel.UNKNOWN
        else f", {channel}"
    )
    return f"{kind}{hertz}{said}"


def clock_words(seconds: float) -> str:
    """Return a time in a recording as minutes and seconds."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def _number(label: str, text: str) -> float | None:
    said = text.strip().replace(",", ".").replace("−", "-")
    if not said:
        return None
    try:
        return float(said)
    except ValueError:
        raise InputError(f"{label}: '{text[:40]}' is not a number") from None
