"""The charts of the house, drawn like a workshop drawing: white paper, ink lines, one signal colour.

Every function takes plain arrays and returns a matplotlib figure; `figure_bytes` turns one into a file.
Colour never carries meaning alone: lines differ in width and dash as well, and are labelled where they run.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray, InputError, Reading

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#1a1a1a"
FAINT = "#b9b6ae"
SHADE = "#efece4"
SIGNAL = "#c8401e"
PAPER = "#ffffff"
SIZE_INCH = (8.6, 5.4)
FORMATS = ("svg", "pdf", "png")

STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 12.5,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.labelsize": 13,
    "axes.linewidth": 1.1,
    "axes.titlesize": 15,
    "figure.facecolor": PAPER,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": 12.5,
    "ytick.labelsize": 12.5,
}
"""The shared look; DejaVu Sans comes with matplotlib, so that a chart is the same on every machine."""

HALF_WIDTH_95_OF_TWO = 2.4477
"""Radius, in standard uncertainties, of the circle that holds 95 % of two independent normal values."""


def figure_bytes(figure: Figure, file_format: str) -> bytes:
    """Return the figure as the content of a file of this format: one of `FORMATS`. The same each time.

    Raises
    ------
    InputError
        The format is not one of `FORMATS`.
    """
    if file_format not in FORMATS:
        raise InputError(
            f"a chart can't be written as '{file_format}'; allowed are {', '.join(FORMATS)}: end the file's "
            "name in .svg"
        )
    import matplotlib

    metadata: dict[str, None] = {"png": {}, "svg": {"Date": None}, "pdf": {"CreationDate": None}}[file_format]
    target = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "groovewright", "svg.fonttype": "path"}):
        figure.savefig(target, format=file_format, dpi=150, metadata=metadata)
    return target.getvalue()


def blank_chart(title: str, x_label: str, y_label: str, *, subtitle: str = "") -> tuple[Figure, Axes]:
    """Return an empty figure in the house's style, and its axes, for a chart to draw on.

    The subtitle is one line that says how to read the chart.
    """
    import matplotlib
    from matplotlib.figure import Figure

    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=SIZE_INCH, layout="constrained")
        axes = figure.add_subplot()
        axes.set_title(title, loc="left", fontweight="bold", pad=32 if subtitle else 14)
        axes.set_xlabel(x_label, labelpad=8)
        axes.set_ylabel(y_label, labelpad=8)
        if subtitle:
            axes.annotate(
                subtitle,
                (0.0, 1.0),
                (0, 11),
                xycoords="axes fraction",
                textcoords="offset points",
                fontsize=11.5,
                color=INK,
            )
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(direction="out", length=5, width=1.0)
    axes.grid(color=FAINT, linewidth=0.6, alpha=0.6)
    axes.set_axisbelow(True)
    return figure, axes


def plain_ticks(axis_ticks: Sequence[float], axes: Axes, *, vertical: bool = False) -> None:
    """Put ticks at these values of a logarithmic axis, labelled as plain numbers (20 k for 20,000)."""
    labels = [f"{tick / 1000:g} k" if tick >= 1000 else f"{tick:g}" for tick in axis_ticks]
    axis = axes.yaxis if vertical else axes.xaxis
    axis.set_ticks(list(axis_ticks), labels)
    axis.set_ticks([], minor=True)


def loaded_response_chart(
    frequency_hz: ArrayLike,
    response_db: ArrayLike,
    *,
    label: str,
    spread_db: tuple[ArrayLike, ArrayLike] | None = None,
    other_db: Sequence[tuple[str, ArrayLike]] = (),
    tolerance_db: float | None = None,
    title: str = "Response of the loaded cartridge",
) -> Figure:
    """Draw the response of a cartridge into its load, in dB about 1 kHz.

    Parameters
    ----------
    frequency_hz, response_db : array_like [shape=(n,)]
        The curve that the chart is about.
    label : str
        What this curve is: '47 kΩ, 200 pF'.
    spread_db : two array_like [each shape=(n,)], optional
        Lower and upper end of its 95 % interval, drawn as a light band.
    other_db : sequence of (label, array_like [shape=(n,)])
        Curves to compare with, in ink, each with a dash of its own.
    tolerance_db : number > 0, optional
        Drawn as two thin lines from 20 Hz to 20 kHz.
    """
    frequency = np.asarray(frequency_hz, dtype=float)
    response = np.asarray(response_db, dtype=float)
    figure, axes = blank_chart(title, "Frequency in hertz", "Level in decibels, 0 at 1 kHz")
    axes.set_xscale("log")
    axes.axvspan(20.0, 20000.0, color=SHADE, alpha=0.55, linewidth=0, zorder=0)
    if tolerance_db is not None:
        for sign in (-1.0, 1.0):
            axes.plot([20.0, 20000.0], [sign * tolerance_db] * 2, color=INK, linewidth=0.9, dashes=(2, 2))
        axes.annotate(
            f"±{tolerance_db:g} dB from 20 Hz to 20 kHz",
            (21.0, tolerance_db),
            (0, 5),
            textcoords="offset points",
            fontsize=11,
        )
    if spread_db is not None:
        low, high = (np.asarray(edge, dtype=float) for edge in spread_db)
        axes.fill_between(frequency, low, high, color=SIGNAL, alpha=0.16, linewidth=0)
    dashes = ((6, 2), (6, 2, 1.5, 2), (3, 2), (1.5, 1.5))
    for index, (name, curve) in enumerate(other_db):
        axes.plot(
            frequency,
            np.asarray(curve, dtype=float),
            color=INK,
            linewidth=1.5,
            dashes=dashes[index % len(dashes)],
            label=name,
        )
    axes.plot(frequency, response, color=SIGNAL, linewidth=3.0, label=label, zorder=4)
    axes.set_xlim(float(frequency.min()), float(frequency.max()))
    plain_ticks([10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000], axes)
    _decibel_limits(axes, [response, *(np.asarray(curve, dtype=float) for _, curve in other_db)], frequency)
    handles, names = axes.get_legend_handles_labels()
    axes.legend(
        [handles[-1], *handles[:-1]],
        [names[-1], *names[:-1]],
        loc="lower center",
        frameon=False,
        fontsize=13,
        handlelength=3.2,
    )
    return figure


def _decibel_limits(axes: Axes, curves: Sequence[ArrayLike], frequency_hz: ArrayLike) -> None:
    """Show all of every curve's audible part, and no more of the fall above it than is readable."""
    frequency = np.asarray(frequency_hz, dtype=float)
    audible = (frequency >= 20.0) & (frequency <= 20000.0)
    every = np.concatenate([np.asarray(curve, dtype=float)[audible] for curve in curves])
    whole = np.concatenate([np.asarray(curve, dtype=float) for curve in curves])
    top = max(3.0, 1.15 * float(whole.max()))
    bottom = min(-6.0, 1.25 * float(every.min()), max(float(whole.min()), -12.0))
    axes.set_ylim(bottom, top)


def resonance_chart(
    effective_mass_g: ArrayLike,
    compliance_um_per_mN: ArrayLike,
    resonance_hz: ArrayLike,
    *,
    job_mass_g: Reading,
    job_compliance_um_per_mN: Reading,
    window_hz: tuple[float, float] = (8.0, 12.0),
    curves_hz: Sequence[float] = (5, 6, 7, 8, 9, 10, 12, 14, 16, 20),
    title: str = "Resonance of arm and cartridge",
) -> Figure:
    """Draw the resonance over total effective mass and compliance, with this job's region in it.

    Parameters
    ----------
    effective_mass_g : array_like > 0 [shape=(m,)], compliance_um_per_mN : array_like > 0 [shape=(c,)]
        The two axes, both logarithmic, so that curves of equal frequency are straight.
    resonance_hz : array_like [shape=(c, m)]
        The resonance at each pair.
    job_mass_g, job_compliance_um_per_mN : Reading
        This job: drawn as a point and as the region that holds the truth with 95 % probability.
    window_hz : pair of numbers
        The preferred window, shaded.
    curves_hz : sequence of numbers
        The frequencies whose curves are drawn.
    """
    mass = np.asarray(effective_mass_g, dtype=float)
    compliance = np.asarray(compliance_um_per_mN, dtype=float)
    resonance = np.asarray(resonance_hz, dtype=float)
    figure, axes = blank_chart(
        title,
        "Total effective mass in grams",
        "Compliance in micrometres per millinewton",
        subtitle=f"Shaded: {window_hz[0]:g} to {window_hz[1]:g} Hz, the preferred window. "
        "Ring: where this job lies with 95 % probability.",
    )
    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.grid(False)
    axes.contourf(mass, compliance, resonance, levels=list(window_hz), colors=[SHADE])
    clear = [hz for hz in curves_hz if all(abs(hz / edge - 1.0) > 0.1 for edge in window_hz)]
    levels = sorted({*clear, *window_hz})
    lines = axes.contour(
        mass,
        compliance,
        resonance,
        levels=levels,
        colors=[INK],
        linewidths=[2.2 if hz in window_hz else 0.8 for hz in levels],
    )
    job = (job_mass_g.value, job_compliance_um_per_mN.value)
    places = _label_places(mass, compliance, resonance, levels, job)
    axes.clabel(lines, fmt="%g Hz", fontsize=11.5, inline_spacing=6, manual=places)
    outline_mass, outline_compliance = _region(job_mass_g, job_compliance_um_per_mN)
    axes.fill(outline_mass, outline_compliance, color=SIGNAL, alpha=0.18, linewidth=0, zorder=4)
    axes.plot(outline_mass, outline_compliance, color=SIGNAL, linewidth=2.2, zorder=5)
    axes.plot([job_mass_g.value], [job_compliance_um_per_mN.value], "o", color=SIGNAL, markersize=8, zorder=6)
    axes.set_xlim(float(mass.min()), float(mass.max()))
    axes.set_ylim(float(compliance.min()), float(compliance.max()))
    plain_ticks(_within([2, 3, 4, 5, 7, 10, 15, 20, 30, 40, 50, 70, 100], mass), axes)
    plain_ticks(_within([2, 3, 4, 5, 7, 10, 15, 20, 30, 40, 50, 70, 100], compliance), axes, vertical=True)
    _name_region(axes, outline_mass, outline_compliance, float(compliance.max()))
    return figure


def _region(mass: Reading, compliance: Reading) -> tuple[FloatArray, FloatArray]:
    """Return the outline that holds 95 %: an ellipse on logarithmic axes, for relative uncertainties."""
    turn = np.linspace(0.0, 2.0 * np.pi, 181)
    outline = [
        reading.value * np.exp(HALF_WIDTH_95_OF_TWO * reading.sd / reading.value * wave)
        for reading, wave in ((mass, np.cos(turn)), (compliance, np.sin(turn)))
    ]
    return outline[0], outline[1]


def _name_region(axes: Axes, mass: FloatArray, compliance: FloatArray, highest: float) -> None:
    """Write 'this job' above the ring, or below it where there is no room above."""
    from matplotlib.patheffects import withStroke

    above = float(compliance.max()) < 0.85 * highest
    axes.annotate(
        "this job",
        (float(np.median(mass)), float(compliance.max() if above else compliance.min())),
        (0, 7 if above else -7),
        textcoords="offset points",
        ha="center",
        va="bottom" if above else "top",
        color=SIGNAL,
        fontweight="bold",
        fontsize=13,
        zorder=7,
        path_effects=[withStroke(linewidth=5, foreground=PAPER)],
    )


def _label_places(
    mass: FloatArray,
    compliance: FloatArray,
    resonance: FloatArray,
    levels: Sequence[float],
    job: tuple[float, float],
) -> list[tuple[float, float]]:
    """Return where each curve that is in view gets its label: along two edges, away from the job."""
    across, up = (
        np.log(value / axis.min()) / np.log(axis.max() / axis.min())
        for value, axis in zip(job, (mass, compliance), strict=True)
    )
    right = across < 0.75 and up > 0.2
    columns, rows = np.arange(len(mass)), np.arange(len(compliance))
    column = int((0.93 if right else 0.07) * columns[-1])
    row = int((0.09 if right else 0.92) * rows[-1])
    along = columns[(columns > 0.05 * columns[-1]) & (columns < 0.96 * columns[-1])]
    if right:  # along the lower edge, then up the right one
        path = [(row, c) for c in along if c < column] + [(r, column) for r in rows[rows >= row]]
    else:  # up the left edge, then along the upper one
        path = [(r, column) for r in rows[rows < row]] + [(row, c) for c in along if c >= column]
    at_row, at_column = np.array(path).T
    hz = resonance[at_row, at_column]
    return [
        (
            float(np.interp(-level, -hz, mass[at_column])),
            float(np.interp(-level, -hz, compliance[at_row])),
        )
        for level in levels
        if hz.min() < level < hz.max()
    ]


def _within(ticks: Sequence[float], values: FloatArray) -> list[float]:
    return [tick for tick in ticks if values.min() <= tick <= values.max()]
