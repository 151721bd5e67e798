"""The guide for the owner: the right steps for each kind of arm, a sheet that is true, a form that composes."""

import re

import numpy as np
import pytest

from groovewright.geometry import align
from groovewright.quantities import CannotBeDoneError
from groovewright.report.at_a_distance import DistantReadings, distant_text, readings_from_text
from groovewright.report.guide import guide
from groovewright.report.guide_page import WORD_CHOICES, guide_html, guide_pdf
from groovewright.sheets import LETTER, PrintCorrection
from groovewright.squaring.words import WORDS

JUST_ARM_AND_CARTRIDGE = """
[arm]
name = "Fernhill F9"
pivot_to_spindle_mm = 222.0
[cartridge_in]
name = "Brightwater 5"
force_min_gf = 1.6
force_max_gf = 2.0
"""
DPI = 600


@pytest.fixture(scope="module")
def demo_guide(demo_job):
    return guide(demo_job.state)


def all_words(made):
    return " ".join(" ".join((*step.say, *step.cautions)) for step in made.steps)


def test_an_arm_and_a_cartridge_are_enough(job):
    made = guide(job(JUST_ARM_AND_CARTRIDGE).state)
    assert made.radii_mm == (121, 66)
    assert made.sheet is not None
    assert "1.80 gf" in all_words(made)
    assert "17.3 mm beyond" in all_words(made), f"overhang {align('lofgren-a', 222.0).overhang_mm}"


def test_each_step_of_the_work_is_there_with_its_drawing_and_cautions_where_they_matter(demo_guide):
    titles = [step.title for step in demo_guide.steps]
    assert titles == [
        "Prepare", "Fit the cartridge", "Set the tracking force", "Put the sheet on the platter",
        "Square it at the outer point", "Look at the inner point", "Tighten, and check",
    ]  # fmt: skip
    for step in demo_guide.steps[:-1]:
        assert step.drawings
        assert all(name in demo_guide.drawings for name in step.drawings)
    cautions = {step.title: " ".join(step.cautions) for step in demo_guide.steps}
    assert "Stylus guard on before anything else." in cautions["Prepare"]
    assert "qualified person" in cautions["Prepare"]
    assert "Never solder" in cautions["Fit the cartridge"]
    assert "No ohmmeter across a moving-coil" in cautions["Fit the cartridge"]
    assert "maker's limits always win" in cautions["Set the tracking force"]
    assert "low volume" in all_words(demo_guide)


def test_the_table_is_laid_first(demo_guide):
    laid = " ".join(demo_guide.lay_out)
    for thing in ("gauge", "sheet", "screwdrivers", "pliers", "lamp", "ruler"):
        assert thing in laid


@pytest.mark.parametrize(
    ("text", "points", "with_sheet"),
    [
        ("[arm]\nheadshell = 'bayonet'\npivot_to_spindle_mm = 222.0\n", ("outer", "inner"), True),
        ("[arm]\nkind = 'straight-underhung'\npivot_to_spindle_mm = 222.0\n", ("outer",), True),
        ("[arm]\nheadshell = 'plug-in'\npivot_to_spindle_mm = 222.0\n", (), False),
        ("[arm]\nheadshell = 'moulded-in'\npivot_to_spindle_mm = 222.0\n", (), False),
        ("[arm]\nkind = 'parallel'\n", (), False),
    ],
    ids=["bayonet", "underhung", "plug-in", "moulded-in", "parallel"],
)
def test_every_kind_of_arm_gets_the_steps_that_it_has(text, points, with_sheet, job, read_pdf):
    made = guide(job(text).state)
    assert made.points == points
    assert (made.sheet is not None) == with_sheet
    pages = read_pdf(guide_pdf(made))
    assert ("Tell us what you see" in "".join(page.text for page in pages)) == bool(points)
    assert ("<form" in guide_html(made)) == bool(points)


@pytest.mark.parametrize("text", ["[job]\ntitle = 'x'\n", "[arm]\nname = 'y'\n"])
def test_without_an_arm_or_its_distance_the_guide_says_what_is_missing(text, job):
    with pytest.raises(CannotBeDoneError, match="needs"):
        guide(job(text).state)


def test_the_words_to_choose_from_are_those_that_the_estimator_knows():
    assert tuple(word for word, _, _ in WORD_CHOICES) == tuple(WORDS)


def bar_length_mm(pixels, dpi):
    """Return how far the first and the last of the eleven long ticks of the bar along the sheet are apart.

    Below the heading and near the left edge, they alone reach a column of pixels whose first
    dark runs are even and 1 cm apart.
    """
    lengths = []
    pixels = pixels[round(0.25 * pixels.shape[0]) : round(0.72 * pixels.shape[0])]
    for column in range(round(8.0 / 25.4 * dpi), round(30.0 / 25.4 * dpi)):
        dark = np.concatenate(([0], (pixels[:, column] < 128).astype(int), [0]))
        edges = np.flatnonzero(np.diff(dark)).reshape(-1, 2)
        ticks = edges.mean(axis=1)[:11]
        if (
            len(ticks) == 11
            and np.ptp(np.diff(ticks)) < 0.2 / 25.4 * dpi < ticks[1] - ticks[0] - 9.0 / 25.4 * dpi
        ):
            lengths.append(ticks[-1] - ticks[0])
    assert lengths
    return float(np.median(lengths)) * 25.4 / dpi


def rendered(content, index, dpi):
    import pypdfium2

    document = pypdfium2.PdfDocument(content)
    page = document[index % len(document)]
    size = tuple(length * 25.4 / 72.0 for length in page.get_size())
    bitmap = page.render(scale=dpi / 72.0, grayscale=True)
    pixels = np.array(bitmap.to_numpy(), copy=True).squeeze()
    bitmap.close()
    page.close()
    document.close()
    return pixels, size


def test_the_sheet_in_the_pdf_is_true_and_asks_not_to_be_scaled(demo_guide):
    content = guide_pdf(demo_guide)
    assert b"/PrintScaling/None" in content
    pixels, size = rendered(content, -1, DPI)
    assert size == pytest.approx((210.0, 297.0), abs=0.05)
    assert bar_length_mm(pixels, DPI) == pytest.approx(100.0, abs=0.05)


def test_a_corrected_sheet_on_letter_paper_is_longer_by_what_the_printer_takes_off(job):
    state = job(JUST_ARM_AND_CARTRIDGE).state
    made = guide(state, paper=LETTER, correction=PrintCorrection(100.0, 98.0))
    pixels, size = rendered(guide_pdf(made, paper=LETTER), -1, DPI)
    assert size == pytest.approx((215.9, 279.4), abs=0.05)
    assert bar_length_mm(pixels, DPI) == pytest.approx(100.0 / 0.98, abs=0.05)


def test_the_html_prints_the_sheet_true_on_a_page_of_its_own(demo_guide, chromium, tmp_path):
    page, out = tmp_path / "guide.html", tmp_path / "guide.pdf"
    page.write_text(guide_html(demo_guide), "utf-8")
    chromium("--no-pdf-header-footer", f"--print-to-pdf={out}", page.as_uri())
    pixels, size = rendered(out.read_bytes(), -1, DPI)
    assert size == pytest.approx((210.0, 297.0), abs=0.4)
    assert bar_length_mm(pixels, DPI) == pytest.approx(100.0, abs=0.1)


def test_the_same_guide_gives_the_same_bytes(demo_job, demo_guide):
    assert guide_pdf(demo_guide) == guide_pdf(guide(demo_job.state))
    assert guide_html(demo_guide) == guide_html(guide(demo_job.state))


def test_the_html_takes_nothing_from_outside_and_runs_its_own_script_only(demo_guide, references):
    import base64
    import hashlib

    text = guide_html(demo_guide)
    assert references(text) == []
    script = re.search(r"<script>(.*?)</script>", text, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src &#39;sha256-{digest}&#39;" in text or f"script-src 'sha256-{digest}'" in text
    assert text.count("<script") == 1
    assert "unsafe" not in text


def test_without_javascript_the_form_is_hidden_and_the_text_to_fill_in_is_there(demo_guide):
    text = guide_html(demo_guide)
    form = re.search(r"<form [^>]*>", text)[0]
    assert " hidden" in form
    assert "Sheet 121 and 66. Outer point: ________. Inner point: ________. Moved as told: ________." in text


def with_choices(html, outer, inner, moved, degrees):
    """Return the page with a choice made in its HTML, as if a person had chosen."""
    for name, word in (("outer", outer), ("inner", inner)):
        html = html.replace(f'name="{name}" value="{word}"', f'name="{name}" value="{word}" checked')
    for name, value in degrees.items():
        html = html.replace(f'name="{name}-degrees"', f'name="{name}-degrees" value="{value}"')
    if moved:
        html = html.replace('name="moved" value="" checked', 'name="moved" value=""')
        html = html.replace(f'name="moved" value="{moved}"', f'name="moved" value="{moved}" checked')
    return html


@pytest.mark.parametrize(
    ("outer", "inner", "moved", "degrees", "wanted"),
    [
        ("square", "slightly-in", "", {}, DistantReadings("square", "slightly-in", None, (121, 66))),
        ("out", "far-in", "no", {"outer": "0.5"}, DistantReadings(-0.5, "far-in", False, (121, 66))),
        ("in", "out", "yes", {"outer": "0.25", "inner": "1.25"}, DistantReadings(0.25, -1.25, True, (121, 66))),
    ],
)  # fmt: skip
def test_the_form_composes_what_the_job_reads(
    outer, inner, moved, degrees, wanted, demo_guide, chromium, tmp_path
):
    page = tmp_path / "guide.html"
    page.write_text(with_choices(guide_html(demo_guide), outer, inner, moved, degrees), "utf-8")
    dom = chromium("--dump-dom", page.as_uri())
    composed = re.search(r'<output id="text"[^>]*>([^<]*)</output>', dom)[1]
    assert composed == distant_text(wanted)
    assert readings_from_text(composed).moved_as_told is wanted.moved_as_told


def test_names_in_any_script_and_of_any_length_print_within_the_margins(job, read_pdf):
    text = (
        f"[job]\nowner = '山田太郎 {'O' * 120}'\nshop = 'Мастерская {'м' * 130}'\n"
        f"[deck]\nname = '{'Plattenspieler' * 12}'\n[arm]\nname = '김철수 {'arm ' * 40}'\npivot_to_spindle_mm = 222.0\n"
        f"[cartridge_in]\nname = '<b>{'W' * 140}</b>'\n"
    )
    made = guide(job(text).state)
    pages = read_pdf(guide_pdf(made))
    for page in pages[:-1]:
        for left, _, right, _ in page.boxes:
            assert left >= 17.0
            assert right <= page.width_mm - 17.0
    whole = "".join(page.text for page in pages)
    assert "山田太郎" in whole
    assert "김철수" in whole
    assert "<b>W" not in guide_html(made)
    assert made.sheet is not None, "the sheet leaves out the names that its lettering can't write"
