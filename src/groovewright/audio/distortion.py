"""Harmonics, mixing products, what tracking error explains of them, and the ladder up to break-up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.averages import magnitude, together
from groovewright.audio.bands import Band, Channel, Replay
from groovewright.audio.equaliser import gain_between
from groovewright.audio.tone_track import ToneData
from groovewright.quantities import Reading

SINGLE = math.sqrt(0.5)
"""Lateral share of a motion that is on one wall only."""
DEAD = 1e-3
"""A column this much weaker than the other (60 dB) carries nothing."""
BREAK_UP = 3.0
"""A step of the ladder has broken up when its third and higher harmonics exceed this times what the steps
below, growing with the square of the level, would give ..."""
BREAK_UP_PERCENT = 1.0
"""... and this, in percent of the tone."""


@dataclass(frozen=True)
class Harmonics:
    """Harmonics of one band, relative to the fundamental, in the groove's velocity and as heard.

    Parameters
    ----------
    by_order_percent : dict of order to Reading
        Equaliser undone: what the groove formula speaks of.
    as_heard_percent : dict of order to Reading
        As they stand in the file.
    thd_percent : Reading
        All together, in the groove's velocity.
    without_second_percent : Reading
        What tracking error can't explain: the third and higher harmonics together.
    sideways_deg : float
        Phase of the second harmonic against that which tracking error makes; near 0 or 180 it may be that.
    """

    by_order_percent: dict[int, Reading]
    as_heard_percent: dict[int, Reading]
    thd_percent: Reading
    without_second_percent: Reading
    sideways_deg: float


def relative_terms(band: Band, tone: ToneData, m: int, n: int = 0) -> NDArray[np.complex128] | None:
    """Return a harmonic or product over its column's fundamental, by segment. [shape=(segments,)]

    For lateral and vertical bands the mean of both columns, which is the harmonic of that motion; otherwise
    the louder column's, as where one is dead.
    """
    term = tone.term(m, n)
    if term is None or len(term) < 3:
        return None
    first = tone.averages[:, 0].mean(axis=0)
    loud = np.abs(first)
    if band.channel in (Channel.LATERAL, Channel.VERTICAL) and loud.min() > DEAD * loud.max():
        return np.asarray((term / first).mean(axis=1))
    column = int(np.argmax(loud))
    return np.asarray(term[:, column] / first[column])


def harmonics_of(
    band: Band, tone: ToneData, replay: Replay, *, column: int | None = None
) -> Harmonics | None:
    """Return the harmonics, or None where the band is too short; of one column only where `column` is
    given.
    """
    f = tone.heard_hz
    undone: dict[int, NDArray[np.complex128]] = {}
    heard: dict[int, NDArray[np.complex128]] = {}
    second_phase = 0.0
    for order, other in tone.terms:
        if other or order < 2:
            continue
        segments = (
            _column_terms(tone, order, column) if column is not None else relative_terms(band, tone, order)
        )
        if segments is None:
            return None
        gain = complex(gain_between(order * f, replay)) / complex(gain_between(f, replay))
        own_phase = complex(gain_between(f, replay)) / abs(complex(gain_between(f, replay)))
        heard[order] = segments
        undone[order] = np.asarray(segments / gain)
        if order == 2:
            # a cosine and its aligned second harmonic keep their phases in this measure
            second_phase = math.degrees(float(np.angle(segments.mean() / gain * own_phase)))
    if not heard:
        return None
    return Harmonics(
        by_order_percent={order: _percent(magnitude(segments)) for order, segments in undone.items()},
        as_heard_percent={order: _percent(magnitude(segments)) for order, segments in heard.items()},
        thd_percent=_percent(together(list(undone.values()))),
        without_second_percent=_percent(
            together([segments for order, segments in undone.items() if order > 2])
        ),
        sideways_deg=second_phase,
    )


def _column_terms(tone: ToneData, order: int, column: int) -> NDArray[np.complex128] | None:
    term = tone.term(order, 0)
    first = tone.averages[:, 0].mean(axis=0)
    if term is None or len(term) < 3 or abs(first[column]) <= DEAD * np.abs(first).max():
        return None
    return np.asarray(term[:, column] / first[column])


def _percent(reading: Reading) -> Reading:
    return Reading(100.0 * reading.value, 100.0 * reading.sd)


def lateral_velocity(band: Band) -> float | None:
    """Return the peak lateral velocity in cm/s, or None where the band has none or it is not known."""
    if band.level_cm_per_s is None or band.channel is Channel.VERTICAL or band.channel is Channel.UNKNOWN:
        return None
    return band.level_cm_per_s * (1.0 if band.channel is Channel.LATERAL else SINGLE)


def tracking_error_from(
    second_percent: Reading, velocity_cm_per_s: float, speed_rpm: float, radius_mm: float
) -> Reading:
    """Return the size of the tracking error that would explain a second harmonic; never its side.

    With k = V / v tan(e) the groove's motion is y = Y sin(w t + k y / Y), Kepler's equation, so that
    velocities of the n-th and first order stand as J_n(n k) / J_1(k) (F. W. Bessel, 1824); to first order the
    second is k, the formula of Baerwald (J. SMPE 37, 591, 1941) and Bauer (Electronics, March 1945).
    """
    ratio = second_percent.value / 100.0
    k = _kepler_ratio_inverse(ratio)
    groove_cm_per_s = 2.0 * math.pi * speed_rpm / 60.0 * radius_mm / 10.0
    tangent = k * groove_cm_per_s / velocity_cm_per_s
    slope = groove_cm_per_s / velocity_cm_per_s / (1.0 + tangent**2)
    return Reading(math.degrees(math.atan(tangent)), math.degrees(slope * second_percent.sd / 100.0))


def _kepler_ratio_inverse(ratio: float) -> float:
    from scipy.special import jv

    k = ratio
    for _ in range(20):
        k = ratio * k / (float(jv(2, 2.0 * k)) / float(jv(1, k))) if 1e-9 < k < 0.9 else min(k, 0.9)
    return k


@dataclass(frozen=True)
class Mixing:
    """Mixing products of a two-tone band, in percent of the second tone, in groove velocity."""

    products_percent: dict[tuple[int, int], Reading]
    difference_percent: Reading | None
    total_percent: Reading


def mixing_of(band: Band, tone: ToneData, replay: Replay) -> Mixing | None:
    """Return mixing products relative to the second tone; None where the band is too short."""
    second = tone.term(0, 1)
    if second is None or len(second) < 3:
        return None
    column = int(np.argmax(np.abs(second.mean(axis=0))))
    pace = tone.heard_hz / tone.nominal_hz if tone.nominal_hz else 1.0
    f1, f2 = tone.heard_hz, pace * float(band.second_frequency_hz or 0.0)
    # segment by segment: what the speed's swing does to the level, it does to both
    reference = second[:, column] / complex(gain_between(f2, replay))
    products = {}
    for m, n in tone.terms[2:]:
        term = tone.term(m, n)
        if term is not None:
            gain = complex(gain_between(abs(m * f1 + n * f2), replay))
            products[(m, n)] = np.asarray(term[:, column] / gain / reference)
    if not products:
        return None
    # both carriers' phases jitter across a product, which must not count along it: that is what `together` tells apart
    sizes = {term: _percent(together([segments])) for term, segments in products.items()}
    return Mixing(sizes, sizes.get((-1, 1)), _percent(together(list(products.values()))))


@dataclass(frozen=True)
class Ladder:
    """How a stylus follows tones of rising level.

    Parameters
    ----------
    levels_cm_per_s : tuple of float
        Peak velocity, rising.
    left_percent, right_percent : tuple of Reading
        Third and higher harmonics of each channel.
    left_breaks_cm_per_s, right_breaks_cm_per_s : float or None
        First level that is not followed, None where all are.
    """

    frequency_hz: float
    channel: Channel
    bands: tuple[str, ...]
    levels_cm_per_s: tuple[float, ...]
    left_percent: tuple[Reading, ...]
    right_percent: tuple[Reading, ...]
    left_breaks_cm_per_s: float | None
    right_breaks_cm_per_s: float | None
    left_clean_cm_per_s: float
    right_clean_cm_per_s: float

    @property
    def side_force_share(self) -> float | None:
        """Force to the side, as a share of the tracking force, that the difference between channels asks for.

        Positive: more anti-skating. The right channel's outer wall is the one that skating, which pulls
        inwards, unloads. Break-up levels are taken as proportional to the force on each wall (common
        practice): (F + S) / (F - S) = left / right. None where a channel was not driven or both follow all.
        """
        left, right = self.left_breaks_cm_per_s, self.right_breaks_cm_per_s
        if not self.left_percent or not self.right_percent or (left is None and right is None):
            return None
        top = self.levels_cm_per_s[-1]
        # between the last clean and the first broken step; a channel that follows all is at least at the top
        a = top if left is None else math.sqrt(left * max(self.left_clean_cm_per_s, 1e-3))
        b = top if right is None else math.sqrt(right * max(self.right_clean_cm_per_s, 1e-3))
        return (a - b) / (a + b)


def ladder_of(rungs: Sequence[tuple[Band, ToneData]], replay: Replay) -> Ladder | None:
    """Return the ladder of bands with one frequency and channel, leads put right; None with under three."""
    known = sorted((r for r in rungs if r[0].level_cm_per_s), key=lambda rung: rung[0].level_cm_per_s or 0.0)
    levels = tuple(float(band.level_cm_per_s or 0.0) for band, _ in known)
    if len(set(levels)) < 3:
        return None
    channel = known[0][0].channel
    columns: list[tuple[Reading, ...]] = []
    for column, silent in ((0, Channel.RIGHT), (1, Channel.LEFT)):
        found = [] if channel is silent else [harmonics_of(b, t, replay, column=column) for b, t in known]
        if any(entry is None for entry in found):
            return None
        columns.append(tuple(entry.without_second_percent for entry in found if entry is not None))
    left, right = (_break(levels, column) for column in columns)
    return Ladder(
        frequency_hz=float(known[0][0].frequency_hz or 0.0),
        channel=channel,
        bands=tuple(band.name for band, _ in known),
        levels_cm_per_s=levels,
        left_percent=columns[0],
        right_percent=columns[1],
        left_breaks_cm_per_s=left[1],
        right_breaks_cm_per_s=right[1],
        left_clean_cm_per_s=left[0],
        right_clean_cm_per_s=right[0],
    )


def joined(left: Ladder, right: Ladder) -> Ladder:
    """Return one ladder from a left-only and a right-only one with the same frequency and levels."""
    return replace(
        left,
        channel=Channel.UNKNOWN,
        bands=left.bands + right.bands,
        right_percent=right.right_percent,
        right_breaks_cm_per_s=right.right_breaks_cm_per_s,
        right_clean_cm_per_s=right.right_clean_cm_per_s,
    )


def _break(levels: tuple[float, ...], sizes: tuple[Reading, ...]) -> tuple[float, float | None]:
    """Return the last level that is followed and the first that is not."""
    if not sizes:
        return 0.0, None
    trend = max(sizes[0].value / levels[0] ** 2, 1e-9)
    if sizes[0].value > BREAK_UP_PERCENT * BREAK_UP:
        return 0.0, levels[0]
    clean = levels[0]
    for level, size in zip(levels[1:], sizes[1:], strict=True):
        allowed = max(BREAK_UP_PERCENT, BREAK_UP * trend * level**2)
        if size.value - 2.0 * size.sd > allowed:
            return clean, level
        clean = level
        trend = max(trend, size.value / level**2)
    return clean, None
