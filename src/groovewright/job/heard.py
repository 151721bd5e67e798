"""What a recording of test tones proved, as a job keeps it: numbers, words and short curves, never sound.

The plain form holds findings under the keys of docs/listen.md, each number with a partner in `_sd`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from groovewright.audio.measures import NUMBER_KEYS, WORD_KEYS
from groovewright.quantities import InputError

MOST_POINTS = 72
"""Points of one curve that a job keeps: enough for a chart on paper, a few kB for a whole recording."""

CURVE_SERIES = {
    "response": (
        "frequency_hz",
        "left_db",
        "right_db",
        "left_sd_db",
        "right_sd_db",
        "crosstalk_db",
        "crosstalk_deg",
    ),
    "resonance": ("frequency_hz", "level_db"),
    "turn": ("turn_deg", "percent"),
    "flutter": ("frequency_hz", "percent"),
}
"""Each kind of curve: its abscissa, then what may stand over it."""


@dataclass(frozen=True)
class Finding:
    """One number or word of docs/listen.md; `sd` is None for a word. `note` is its reason or reference."""

    key: str
    value: float | str
    sd: float | None = None
    bands: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class CrosstalkHeard:
    """Balance and crosstalk at one frequency, size and phase, and the lean that they ask for."""

    frequency_hz: float
    balance_db: float
    balance_db_sd: float
    l_to_r_db: float
    l_to_r_db_sd: float
    l_to_r_deg: float
    l_to_r_deg_sd: float
    r_to_l_db: float
    r_to_l_db_sd: float
    r_to_l_deg: float
    r_to_l_deg_sd: float
    azimuth_deg: float
    azimuth_deg_sd: float
    l_to_r_if_upright_db: float
    r_to_l_if_upright_db: float


@dataclass(frozen=True)
class LadderHeard:
    """How the stylus followed tones of rising level; a channel that was not driven has no percentages.

    Parameters
    ----------
    left_percent, left_percent_sd, right_percent, right_percent_sd : tuple of float
        Third and higher harmonics, one for each level.
    left_breaks_cm_per_s, right_breaks_cm_per_s : float or None
        First level that is not followed.
    left_clean_cm_per_s, right_clean_cm_per_s : float
        Last level that is followed.
    """

    frequency_hz: float
    channel: str
    bands: tuple[str, ...]
    levels_cm_per_s: tuple[float, ...]
    left_percent: tuple[float, ...] = ()
    left_percent_sd: tuple[float, ...] = ()
    right_percent: tuple[float, ...] = ()
    right_percent_sd: tuple[float, ...] = ()
    left_breaks_cm_per_s: float | None = None
    right_breaks_cm_per_s: float | None = None
    left_clean_cm_per_s: float = 0.0
    right_clean_cm_per_s: float = 0.0


@dataclass(frozen=True)
class Curve:
    """A curve of at most `MOST_POINTS` points; `kind` is a key of `CURVE_SERIES`, the first series its abscissa."""

    kind: str
    band: str
    channel: str
    series: tuple[tuple[str, tuple[float, ...]], ...]

    def get(self, name: str) -> tuple[float, ...] | None:
        """Return one series; None where it was not measured."""
        return dict(self.series).get(name)


@dataclass(frozen=True)
class Listened:
    """A recording of test tones was heard.

    Parameters
    ----------
    file : str
        Its name, without folders.
    as_found : bool
        It was made before anything was changed, with the cartridge that came in.
    heard_on : str
        The day, year-month-day; empty where not noted.
    complete : bool
        Read to its end, nothing missing.
    bands_from : str
        'list', or 'found' where the bands were not listed.
    band_list : str
        The band list as TOML text (docs/listen.md).
    withheld : tuple of (key, why)
        What could not be measured.
    """

    file: str
    as_found: bool = False
    heard_on: str = ""
    duration_s: float = 0.0
    sample_rate_hz: float = 0.0
    encoding: str = ""
    complete: bool = True
    bands_from: str = "list"
    band_list: str = ""
    findings: tuple[Finding, ...] = ()
    withheld: tuple[tuple[str, str], ...] = ()
    warnings: tuple[str, ...] = ()
    crosstalk: tuple[CrosstalkHeard, ...] = ()
    tracking_ability: tuple[LadderHeard, ...] = ()
    curves: tuple[Curve, ...] = ()

    def finding(self, key: str) -> Finding | None:
        """Return one finding; None where it was not measured."""
        return next((finding for finding in self.findings if finding.key == key), None)


@dataclass(frozen=True)
class ListenClosed:
    """No further recording will be made: the stage is settled as it stands, for a reason."""

    why: str = "no test recording at hand"


def plain_of_listened(event: Listened) -> dict[str, Any]:
    """Return the plain form: findings by key, with `measured_in` and `notes` beside them."""
    plain = {field.name: getattr(event, field.name) for field in fields(event) if field.name not in CONVERTED}
    findings: dict[str, float | str] = {}
    for finding in event.findings:
        findings[finding.key] = finding.value
        if finding.sd is not None:
            findings[f"{finding.key}_sd"] = finding.sd
    return {
        **plain,
        "warnings": list(event.warnings),
        "findings": findings,
        "measured_in": {finding.key: list(finding.bands) for finding in event.findings if finding.bands},
        "notes": {finding.key: finding.note for finding in event.findings if finding.note},
        "withheld": dict(event.withheld),
        "crosstalk": [asdict(point) for point in event.crosstalk],
        "tracking_ability": [_with_lists(asdict(ladder)) for ladder in event.tracking_ability],
        "curves": [
            {"kind": curve.kind, "band": curve.band, "channel": curve.channel}
            | {name: list(values) for name, values in curve.series}
            for curve in event.curves
        ],
    }


CONVERTED = ("findings", "withheld", "warnings", "crosstalk", "tracking_ability", "curves")
"""Fields that a plain form holds in another shape."""


def _with_lists(values: Mapping[str, Any]) -> dict[str, Any]:
    return {key: list(value) if isinstance(value, tuple) else value for key, value in values.items()}


def listened_of(values: Mapping[str, Any], where: str) -> Listened:
    """Return the event of a plain form without its kind.

    Raises
    ------
    InputError
        Something in it is not what docs/job.md says; the text begins with `where`.
    """
    plain = dict(values)
    if "file" not in plain:
        raise InputError(f"{where}: file is missing; it is the name of the recording")
    measured_in, notes = plain.pop("measured_in", {}), plain.pop("notes", {})
    try:
        plain["findings"] = _findings(plain.get("findings", {}), measured_in, notes, where)
        plain["withheld"] = tuple((key, str(why)) for key, why in plain.get("withheld", {}).items())
        plain["warnings"] = tuple(plain.get("warnings", ()))
        plain["crosstalk"] = tuple(CrosstalkHeard(**point) for point in plain.get("crosstalk", ()))
        plain["tracking_ability"] = tuple(
            _ladder(entry, where) for entry in plain.get("tracking_ability", ())
        )
        plain["curves"] = tuple(_curve(curve, where) for curve in plain.get("curves", ()))
        return Listened(**plain)
    except InputError:
        raise
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise InputError(f"{where} can't be read: {error}") from None


def _findings(
    values: Mapping[str, Any], measured_in: Mapping[str, Any], notes: Mapping[str, Any], where: str
) -> tuple[Finding, ...]:
    found = []
    for key, value in values.items():
        if key in WORD_KEYS:
            sd = None
        elif key in NUMBER_KEYS:
            if f"{key}_sd" not in values:
                raise InputError(f"{where}, findings: {key} has no {key}_sd; every number has one")
            sd = values[f"{key}_sd"]
        elif key.removesuffix("_sd") in values:
            continue
        else:
            raise InputError(f"{where}, findings: there is no key '{key}'; docs/listen.md lists them")
        found.append(Finding(key, value, sd, tuple(measured_in.get(key, ())), str(notes.get(key, ""))))
    return tuple(found)


def _ladder(values: Mapping[str, Any], where: str) -> LadderHeard:
    plain: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in values.items()
    }
    ladder = LadderHeard(**plain)
    for name in ("left", "right"):
        sizes, sds = getattr(ladder, f"{name}_percent"), getattr(ladder, f"{name}_percent_sd")
        if (
            not ladder.levels_cm_per_s
            or len(sizes) != len(sds)
            or len(sizes) not in (0, len(ladder.levels_cm_per_s))
        ):
            raise InputError(
                f"{where}, tracking_ability: a ladder has one {name}_percent and {name}_percent_sd for each of its "
                f"levels, or none; this one has {len(sizes)} and {len(sds)} for {len(ladder.levels_cm_per_s)}"
            )
    return ladder


def _curve(values: Mapping[str, Any], where: str) -> Curve:
    kind = values["kind"]
    if kind not in CURVE_SERIES:
        raise InputError(f"{where}, curves: there is no kind '{kind}'; known are {', '.join(CURVE_SERIES)}")
    names = CURVE_SERIES[kind]
    unknown = [key for key in values if key not in (*names, "kind", "band", "channel")]
    if unknown or names[0] not in values:
        raise InputError(
            f"{where}, curves: a '{kind}' has kind, band, channel, {names[0]} and some of "
            f"{', '.join(names[1:])}; not {', '.join(unknown) or f'without {names[0]}'}"
        )
    series = tuple((name, tuple(values[name])) for name in names if name in values)
    lengths = {len(points) for _, points in series}
    if len(lengths) != 1 or not 0 < lengths.copy().pop() <= MOST_POINTS:
        raise InputError(
            f"{where}, curves: the series of one curve are equally long, 1 to {MOST_POINTS} points; "
            f"these have {', '.join(f'{name} {len(points)}' for name, points in series)}"
        )
    return Curve(kind, values.get("band", ""), values.get("channel", ""), series)
