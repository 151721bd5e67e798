"""Drawings of what a recording proved: speed over time, its spectrum, the turn, crosstalk,
response.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from groovewright.audio import Listening
from groovewright.job.heard_curves import over_the_turn
from groovewright.quantities import FloatArray
from groovewright.report.charts import figure_bytes

INK, SIGNAL, SECOND = "#1a1a1a", "#b5342b", "#2b5fb5"


def drawings(listening: Listening, load: tuple[FloatArray, FloatArray] | None = None) -> dict[str, bytes]:
    """Return file names and contents, each drawing as SVG and as PNG; only of what was measured.

    Parameters
    ----------
    load : tuple of array [each shape=(m,)], optional
        Frequency in Hz and level in dB of the cartridge into its load, drawn beside the response.
    """
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    made: dict[str, bytes] = {}
    drawn: dict[str, Callable[[Any, Listening], bool]] = {
        **DRAWINGS,
        "response": partial(_response, load=load),
    }
    with rc_context({"font.size": 11, "axes.edgecolor": INK}):
        for name, draw in drawn.items():
            figure = Figure(figsize=(7.2, 4.4), layout="constrained")
            if draw(figure, listening):
                made |= {f"{name}.{ending}": figure_bytes(figure, ending) for ending in ("svg", "png")}
    return made


def _speed_band(listening: Listening) -> str | None:
    measure = listening.measures.get("flutter_weighted_two_sigma_percent") or listening.measures.get(
        "speed_error_percent"
    )
    return measure.bands[0] if measure else None


def _speed(figure: Any, listening: Listening) -> bool:
    name = _speed_band(listening)
    if name is None:
        return False
    deviation = listening.deviations[name]
    step = max(1, int(deviation.rate_hz / 50.0))
    count = deviation.percent.size // step
    smooth = deviation.percent[: count * step].reshape(count, step).mean(axis=1)
    times = np.arange(count) * step / deviation.rate_hz
    axes = figure.add_subplot()
    axes.plot(times, smooth, color=INK, linewidth=0.8)
    axes.set(xlabel="time, s", ylabel="speed against its mean, %", title=f"Speed in {name}")
    axes.grid(alpha=0.3)
    return True


def _spectrum(figure: Any, listening: Listening) -> bool:
    name = _speed_band(listening)
    if name is None or name not in listening.flutters:
        return False
    flutter = listening.flutters[name]
    axes = figure.add_subplot()
    axes.loglog(flutter.spectrum_hz, np.maximum(flutter.spectrum_percent, 1e-6), color=INK, linewidth=0.8)
    turns = listening.turnings[name].turns_per_s
    axes.axvline(turns, color=SIGNAL, linestyle="--", linewidth=1.0, label="once per turn")
    axes.set(xlabel="rate, Hz", ylabel="rms deviation, %", title=f"Spectrum of speed in {name}")
    axes.legend()
    axes.grid(alpha=0.3, which="both")
    return True


def _turn(figure: Any, listening: Listening) -> bool:
    name = _speed_band(listening)
    if name is None:
        return False
    deviation, turning = listening.deviations[name], listening.turnings[name]
    mean = over_the_turn(deviation, turning, 120)
    axes = figure.add_subplot(projection="polar")
    scale = max(0.05, float(np.abs(mean).max()) * 1.5)
    places = np.arange(121) * 2.0 * np.pi / 120.0
    axes.plot(places, np.append(mean, mean[0]), color=SIGNAL, label="mean of all turns")
    axes.plot(places, np.zeros(121), color=INK, linewidth=0.8, label="mean speed")
    axes.set(ylim=(-scale, scale), title=f"Speed over the turn, %, in {name}")
    axes.legend(loc="lower right", fontsize=8)
    return True


def _crosstalk(figure: Any, listening: Listening) -> bool:
    curves = [one for one in listening.responses.values() if one.crosstalk_db is not None]
    points = listening.separations
    if not curves and not points:
        return False
    axes = figure.add_subplot()
    for curve, colour, dash in zip(curves, (INK, SIGNAL, SECOND), ("-", "--", ":"), strict=False):
        axes.semilogx(
            curve.frequency_hz, curve.crosstalk_db, color=colour, linestyle=dash, label=curve.band.name
        )
    if points:
        hz = [point.frequency_hz for point in points]
        axes.semilogx(
            hz, [p.left_to_right.level_db.value for p in points], "o", color=INK, label="left to right"
        )
        axes.semilogx(
            hz, [p.right_to_left.level_db.value for p in points], "s", color=SIGNAL, label="right to left"
        )
    axes.set(xlabel="frequency, Hz", ylabel="crosstalk, dB", title="Crosstalk")
    axes.legend(fontsize=8)
    axes.grid(alpha=0.3, which="both")
    return True


def _response(figure: Any, listening: Listening, load: tuple[FloatArray, FloatArray] | None = None) -> bool:
    if not listening.responses:
        return False
    axes = figure.add_subplot()
    for one in listening.responses.values():
        for curve, colour, dash, side in (
            (one.left_db, INK, "-", "left"),
            (one.right_db, SIGNAL, "--", "right"),
        ):
            if curve is not None:
                axes.semilogx(
                    one.frequency_hz, curve, color=colour, linestyle=dash, label=f"{side}: {one.band.name}"
                )
    if load is not None:
        axes.semilogx(*load, color=SECOND, linestyle=":", label="coil and load, computed")
        axes.set_xlim(20.0, 20_000.0)
    axes.set(xlabel="frequency, Hz", ylabel="deviation, dB", title="Frequency response", ylim=(-12, 12))
    axes.legend(fontsize=8)
    axes.grid(alpha=0.3, which="both")
    return True


def _resonance(figure: Any, listening: Listening) -> bool:
    if not listening.resonances:
        return False
    axes = figure.add_subplot()
    for (name, one), colour in zip(
        listening.resonances.items(), (INK, SIGNAL, SECOND, "#777777"), strict=False
    ):
        label = f"{name}: {one.frequency_hz.value:.2f} Hz, Q {one.q.value:.1f}"
        axes.plot(one.curve_hz, one.curve_db - one.curve_db.max(), color=colour, linewidth=0.9, label=label)
    axes.axvspan(8.0, 12.0, color=SECOND, alpha=0.1, label="8 to 12 Hz")
    axes.set(xlabel="frequency, Hz", ylabel="level, dB", title="Resonance of arm and cartridge", xlim=(3, 30))
    axes.legend(fontsize=8)
    axes.grid(alpha=0.3)
    return True


DRAWINGS = {
    "speed": _speed,
    "speed-spectrum": _spectrum,
    "turn": _turn,
    "crosstalk": _crosstalk,
    "response": _response,
    "resonance": _resonance,
}
"""File name and how it is drawn; each answers whether there was anything to draw."""
