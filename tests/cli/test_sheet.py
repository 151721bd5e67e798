"""`groovewright sheet`: the file by its ending, what it prints, and what it refuses."""

import io
import json
import xml.etree.ElementTree as ET

import pypdf
import pytest


def test_a_pdf_and_an_svg_are_written_by_the_ending(run, tmp_path):
    for kind in ("two-point", "arc"):
        pdf, svg = tmp_path / f"{kind}.pdf", tmp_path / f"{kind}.SVG"
        for out in (pdf, svg):
            code, text, errors = run("sheet", "--pivot-to-spindle", 222, "--kind", kind, "--out", out)
            assert (code, errors) == (0, "")
            assert str(out) in text
            assert max(map(len, text.replace(str(out), "").splitlines())) <= 80
        assert len(pypdf.PdfReader(pdf).pages) == 1
        assert ET.parse(svg).getroot().get("viewBox") == "0 0 210 297"


def test_json_tells_what_was_drawn_with_units_in_its_keys(run, tmp_path):
    out = tmp_path / "sheet.pdf"
    code, text, _ = run(
        "sheet", "--pivot-to-spindle", 222, "--paper", "letter", "--measured-x", 99.4, "--out", out, "--json"
    )
    values = json.loads(text)
    assert code == 0
    assert (values["file"], values["paper"], values["kind"]) == (str(out), "US Letter", "two-point")
    assert (values["measured_x_mm"], values["measured_y_mm"]) == (99.4, 100.0)
    # Lofgren A, d = 222 mm, 60.325 to 146.05 mm: nulls as the trade quotes them (common practice);
    # the rest from high-precision brute force
    assert values["null_inner_mm"] == pytest.approx(65.998, abs=0.001)
    assert values["null_outer_mm"] == pytest.approx(120.891, abs=0.001)
    assert values["effective_length_mm"] == pytest.approx(239.296, abs=0.001)
    assert values["overhang_mm"] == pytest.approx(17.296, abs=0.001)
    assert values["offset_angle_deg"] == pytest.approx(22.986, abs=0.001)


def test_given_nulls_take_the_place_of_a_criterion(run, tmp_path):
    out = tmp_path / "sheet.pdf"
    options = ("--pivot-to-spindle", 222, "--nulls", "60:117", "--arm", "Fernhill F9", "--for", "A. Sample")
    code, text, _ = run("sheet", *options, "--out", out, "--json")
    values = json.loads(text)
    assert (code, values["criterion"]) == (0, "given nulls")
    assert (values["null_inner_mm"], values["null_outer_mm"]) == (60.0, 117.0)
    written = pypdf.PdfReader(io.BytesIO(out.read_bytes())).pages[0].extract_text()
    for words in ("given nulls", "inner 60.00 mm", "Fernhill F9", "for A. Sample"):
        assert words in written


def test_an_existing_file_is_left_alone_without_force(run, tmp_path):
    out = tmp_path / "sheet.svg"
    out.write_text("mine")
    code, _, errors = run("sheet", "--pivot-to-spindle", 222, "--out", out)
    assert (code, out.read_text()) == (2, "mine")
    assert "--force" in errors
    code, _, _ = run("sheet", "--pivot-to-spindle", 222, "--out", out, "--force")
    assert code == 0
    assert out.read_text().startswith("<svg")


@pytest.mark.parametrize(("options", "code", "words"), [
    (("--out", "sheet.png"), 2, "a sheet is written as .pdf or .svg, such as sheet.pdf"),
    (("--out", "sheet"), 2, "a sheet is written as .pdf or .svg"),
    (("--out", "nowhere/sheet.pdf"), 2, "can't be written"),
    (("--measured-x", "85", "--out", "s.pdf"), 2, "measure the bar again"),
    (("--measured-y", "3.93", "--out", "s.pdf"), 2, "inches"),
    (("--measured-x", "nan", "--out", "s.pdf"), 2, "not a finite number"),
    (("--nulls", "121:66", "--out", "s.pdf"), 2, "66:121"),
    (("--nulls", "66", "--out", "s.pdf"), 2, "two numbers"),
    (("--nulls", "70:205", "--out", "s.pdf"), 1, "don't fit on this paper"),
    (("--kind", "arc", "--nulls", "80:84", "--out", "s.pdf"), 1, "two-point sheet"),
    (("--arm", "F9 ☃", "--out", "s.pdf"), 2, "U+2603"),
    (("--paper", "a3", "--out", "s.pdf"), 2, "'a3' is not one of 'a4', 'letter'"),
    ((), 2, "--out"),
])  # fmt: skip
def test_bad_input_gets_one_line_and_writes_nothing(run, tmp_path, monkeypatch, options, code, words):
    monkeypatch.chdir(tmp_path)
    found, text, errors = run("sheet", "--pivot-to-spindle", 222, *options)
    assert (found, text) == (code, "")
    assert words in errors
    assert errors.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_an_arm_in_inches_is_recognised(run, tmp_path):
    code, _, errors = run("sheet", "--pivot-to-spindle", 9, "--out", tmp_path / "s.pdf")
    assert code == 2
    assert "inches" in errors
