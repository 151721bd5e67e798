"""The charts: right words, right places, the same bytes each time."""

from __future__ import annotations

import io

import numpy as np
import pytest

from groovewright.quantities import InputError, Reading
from groovewright.report.charts import SIGNAL, figure_bytes, loaded_response_chart, resonance_chart

HZ = np.geomspace(10, 50000, 200)
FALL = -10.0 * np.log10(1.0 + (HZ / 15000.0) ** 4)


def texts(figure) -> str:
    from matplotlib.text import Text

    return "\n".join(text.get_text() for text in figure.findobj(Text))


def response_chart():
    return loaded_response_chart(
        HZ,
        FALL,
        label="47 kΩ with 200 pF",
        spread_db=(FALL - 0.5, FALL + 0.5),
        other_db=[("best: 68 kΩ with 50 pF", FALL / 2.0)],
        tolerance_db=2.0,
    )


def mass_chart():
    mass, compliance = np.geomspace(5, 50, 60), np.geomspace(4, 50, 60)
    resonance = 1000.0 / (2.0 * np.pi * np.sqrt(mass * compliance[:, None]))
    return resonance_chart(
        mass,
        compliance,
        resonance,
        job_mass_g=Reading(18.5, 0.6),
        job_compliance_um_per_mN=Reading(17.0, 2.2),
    )


def test_response_chart_spells_out_axes_with_units_and_names_its_curves() -> None:
    words = texts(response_chart())
    for part in (
        "Frequency in hertz", "Level in decibels", "47 kΩ with 200 pF", "best: 68 kΩ", "±2 dB", "20 k",
    ):  # fmt: skip
        assert part in words


def test_the_curve_itself_is_the_thickest_line_and_in_the_signal_colour() -> None:
    lines = response_chart().axes[0].get_lines()
    thickest = max(lines, key=lambda line: line.get_linewidth())
    assert thickest.get_color() == SIGNAL
    assert np.array_equal(thickest.get_ydata(), FALL)
    assert sum(line.get_color() == SIGNAL for line in lines) == 1


def test_resonance_chart_labels_window_edges_and_places_the_job() -> None:
    figure = mass_chart()
    words = texts(figure)
    for part in ("Total effective mass in grams", "Compliance in micrometres", "8 Hz", "12 Hz", "this job"):
        assert part in words
    # 18.5 g and 17 um/mN lie at 1000 / (2 pi sqrt(18.5 * 17)) = 8.97 Hz, inside the shaded window (textbook)
    (dot,) = [line for line in figure.axes[0].get_lines() if line.get_marker() == "o"]
    x, y = float(dot.get_xdata()[0]), float(dot.get_ydata()[0])
    assert (x, y) == (18.5, 17.0)


def test_the_ring_of_the_job_holds_95_percent_of_draws() -> None:
    from matplotlib.path import Path

    figure = mass_chart()
    ring = next(line for line in figure.axes[0].get_lines() if len(line.get_xdata()) > 100)
    rng = np.random.default_rng(2)
    draws = np.column_stack(
        [
            18.5 * np.exp(0.6 / 18.5 * rng.standard_normal(20000)),
            17.0 * np.exp(2.2 / 17.0 * rng.standard_normal(20000)),
        ]
    )
    inside = Path(np.column_stack([ring.get_xdata(), ring.get_ydata()])).contains_points(draws)
    assert 0.94 < inside.mean() < 0.96


@pytest.mark.parametrize("file_format", ["svg", "pdf", "png"])
def test_a_figure_gives_the_same_bytes_each_time(file_format: str) -> None:
    assert figure_bytes(response_chart(), file_format) == figure_bytes(response_chart(), file_format)


def test_an_unknown_format_is_refused_with_those_that_work() -> None:
    with pytest.raises(InputError, match=r"'bmp'; allowed are svg, pdf, png"):
        figure_bytes(mass_chart(), "bmp")


@pytest.mark.parametrize("make", [response_chart, mass_chart])
def test_no_text_runs_off_the_page(make) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.image import imread

    figure = make()
    FigureCanvasAgg(figure)
    pixels = imread(io.BytesIO(figure_bytes(figure, "png")))[..., :3]
    border = np.concatenate(
        [pixels[:2].ravel(), pixels[-2:].ravel(), pixels[:, :2].ravel(), pixels[:, -2:].ravel()]
    )
    assert border.min() > 0.99
