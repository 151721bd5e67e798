"""Charts of what a recording proved, from the curves that a job keeps: as left in strong lines, as found faint."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from groovewright.job import JobState
from groovewright.job.heard import Curve, Listened
from groovewright.job.loading import load_curve_db
from groovewright.job.recording import heard_as_found, last_heard, readings_of
from groovewright.job.stages.match import resonance_of
from groovewright.report.charts import INK, SHADE, SIGNAL, blank_chart, figure_bytes, plain_ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GREY = "#8b877d"
AUDIBLE = (20.0, 20_000.0)
TICKS = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)
LEFT: dict[str, Any] = {"color": INK, "linewidth": 2.2}
RIGHT: dict[str, Any] = {"color": SIGNAL, "linewidth": 2.2, "dashes": (6, 2)}
STYLES = (LEFT, RIGHT)
"""Left and right, or sideways and up and down: apart by colour and by dash."""


def response_svg(state: JobState) -> str | None:
    """Return the responses of both channels with the load's curve; None where none was measured."""
    found, left = heard_as_found(state), last_heard(state)
    if not any(_curves(event, "response") for event in (found, left)):
        return None
    figure, axes = blank_chart(
        "Response, by the recording",
        "Frequency in hertz",
        "Level in decibels, 0 at 1 kHz",
        subtitle=_read(found, left),
    )
    _logarithmic(axes)
    for event, faint in ((found, True), (left, False)):
        for side, style in zip(("left", "right"), STYLES, strict=True):
            for curve in _curves(event, "response"):
                _line(axes, curve, f"{side}_db", side, style, faint=faint)
    load = None if left is None else load_curve_db(state.cartridge_in, state.phono)
    if load is not None:
        axes.plot(*load, color=INK, linewidth=1.2, dashes=(1.5, 1.5), label="coil and load, computed")
    axes.set_ylim(*_around([line.get_ydata() for line in axes.get_lines()], axes, 6.0))
    _legend(axes, "lower center")
    return figure_bytes(figure, "svg").decode()


def crosstalk_svg(state: JobState) -> str | None:
    """Return crosstalk over frequency, both ways; None where none was measured."""
    found, left = heard_as_found(state), last_heard(state)
    events = [event for event in (found, left) if event is not None]
    if not any(curve.get("crosstalk_db") for event in events for curve in _curves(event, "response")):
        return None
    figure, axes = blank_chart(
        "Crosstalk, by the recording", "Frequency in hertz", "Level in decibels", subtitle=_read(found, left)
    )
    _logarithmic(axes)
    ways = (("left", "left into right", LEFT), ("right", "right into left", RIGHT))
    for event, faint in ((found, True), (left, False)):
        for channel, name, style in ways:
            for curve in _curves(event, "response"):
                if curve.channel == channel:
                    _line(axes, curve, "crosstalk_db", name, style, faint=faint)
    axes.set_ylim(-60.0, 0.0)
    _legend(axes, "upper center")
    return figure_bytes(figure, "svg").decode()


def resonance_svg(state: JobState) -> str | None:
    """Return both resonances as heard, beside the prediction; None where none was measured."""
    found, left = heard_as_found(state), last_heard(state)
    if not any(_resonance(event, motion) for event in (found, left) for motion in MOTIONS):
        return None
    figure, axes = blank_chart(
        "Resonance of arm and cartridge, by the recording",
        "Frequency in hertz",
        "Level in decibels under the peak",
        subtitle=_read(found, left),
    )
    axes.set_xscale("log")
    axes.axvspan(8.0, 12.0, color=SHADE, linewidth=0, zorder=0)
    axes.annotate("8 to 12 Hz", (9.8, -24.3), ha="center", fontsize=11)
    for event, faint in ((found, True), (left, False)):
        for motion, style in zip(MOTIONS, STYLES, strict=True):
            curve = _resonance(event, motion)
            if curve is not None:
                _line(axes, curve, "level_db", MOTIONS[motion], style, faint=faint)
        _marks(axes, event, faint=faint)
    predicted = None if left is None else resonance_of(state)
    if predicted is not None:
        low, high = predicted.vertical.interval()
        axes.plot(
            [low, high],
            [2.2, 2.2],
            color=INK,
            linewidth=1.2,
            marker="|",
            markersize=9,
            label="predicted, 95 %",
        )
    axes.set_xlim(3.0, 30.0)
    axes.set_ylim(-25.0, 4.0)
    plain_ticks((3, 4, 5, 6, 8, 10, 12, 15, 20, 30), axes)
    _legend(axes, "lower right", columns=1)
    return figure_bytes(figure, "svg").decode()


MOTIONS = {"lateral": "sideways", "vertical": "up and down"}


def _marks(axes: Axes, event: Listened | None, *, faint: bool) -> None:
    for motion, style in zip(MOTIONS, STYLES, strict=True):
        reading = None if event is None else readings_of(event).get(f"resonance_{motion}_hz")
        if reading is not None:
            axes.plot(
                [reading.value], [0.6], marker="v", markersize=9, color=GREY if faint else style["color"]
            )


def _resonance(event: Listened | None, motion: str) -> Curve | None:
    """Return the curve that the number came from, else the first of this motion."""
    curves = [curve for curve in _curves(event, "resonance") if curve.band.startswith(f"{motion}:")]
    finding = None if event is None else event.finding(f"resonance_{motion}_hz")
    bands = () if finding is None else finding.bands
    named = [curve for curve in curves if curve.band.removeprefix(f"{motion}: ") in bands]
    return next(iter(named or curves), None)


def _curves(event: Listened | None, kind: str) -> list[Curve]:
    return [] if event is None else [curve for curve in event.curves if curve.kind == kind]


def _line(axes: Axes, curve: Curve, name: str, label: str, style: dict[str, Any], *, faint: bool) -> None:
    values = curve.get(name)
    if values is None:
        return
    known = [entry.get_label() for entry in axes.get_lines()]
    label = f"{label}, as found" if faint else label
    drawn = {**style, "color": GREY, "linewidth": 1.3} if faint else style
    axes.plot(curve.series[0][1], values, label="_" if label in known else label, **drawn)


def _logarithmic(axes: Axes) -> None:
    axes.set_xscale("log")
    axes.set_xlim(*AUDIBLE)
    plain_ticks(TICKS, axes)


def _around(curves: Sequence[object], axes: Axes, least: float) -> tuple[float, float]:
    """Return limits that hold every curve's part that is in view, and at least so much either way."""
    sizes = [least]
    for line, values in zip(axes.get_lines(), curves, strict=True):
        hz, level = np.asarray(line.get_xdata(), dtype=float), np.asarray(values, dtype=float)
        inside = (hz >= AUDIBLE[0]) & (hz <= AUDIBLE[1])
        sizes += [1.2 * float(np.abs(level[inside]).max())] if inside.any() else []
    return -min(max(sizes), 20.0), min(max(sizes), 20.0)


def _legend(
    axes: Axes, place: Literal["lower center", "upper center", "lower right"], *, columns: int = 2
) -> None:
    axes.legend(loc=place, frameon=False, fontsize=12, handlelength=3.2, ncols=columns)


def _read(found: Listened | None, left: Listened | None) -> str:
    return "Strong: as left. Grey: as found." if found is not None and left is not None else ""
