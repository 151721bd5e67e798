"""The handover paper as its reader gets it: text, pages, code, scripts, long names, nothing from outside."""

import base64
import hashlib
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import cv2
import numpy as np
import pypdfium2
import pytest

from groovewright.job import Looked
from groovewright.job.recording import last_heard
from groovewright.job.step_toml import step_toml
from groovewright.report.comparison import comparison, number_text, percent, setting_name
from groovewright.report.handover import LARGEST_CODE_BYTES, handover, next_check_text, parsed_date
from groovewright.report.handover_html import handover_html
from groovewright.report.handover_pdf import handover_pdf
from groovewright.report.heard_charts import crosstalk_svg, resonance_svg, response_svg
from groovewright.report.picture import svg_for_typesetter
from groovewright.report.qr import code_picture
from groovewright.report.stage_charts import stage_charts
from groovewright.report.typesetting import MISSING_NOTE, has_foreign_letters
from groovewright.sheets import LETTER, PAPERS

SCRIPTS = {
    "Latin": "Żółć Gęślą, Ñandú, Nguyễn Thị Ánh",
    "Greek": "Νικόλαος Παπαδόπουλος",
    "Cyrillic": "Александра Щербакова",
    "Japanese": "山田太郎レコード店",
    "Korean": "김철수 바늘",
    "Chinese": "唱針調整記錄 汉字",
}
LONG_NAMES = f"""
[job]
title = "{"Sehr langer Titel mit vielen Worten " * 5}"
shop = "{"S" * 130}"
owner = "{"; ".join(SCRIPTS.values())}"
notes = "A note with <b>marks</b>, #set text(size: 90pt), $x$, *a* and _b_."
[deck]
name = "{"Plattenspieler" * 10}"
[arm]
name = "{"Tonarm mit langem Namen " * 6}"
pivot_to_spindle_mm = 222.0
[cartridge_out]
name = "{"W" * 140}"
[cartridge_in]
name = "<script>alert(1)</script><img src=x onerror=alert(2)> {"i" * 120}"
[found]
antiskating = "{"on the third mark of the dial " * 8}"
"""


def many_looks(count):
    rng = np.random.default_rng(5)
    return "".join(
        f"[[step]]\nlook = {{ outer = {outer:.2f}, inner = {inner:.2f} }}\n[[step]]\n"
        "moved = { slide_mm = 0.0, turn_deg = 0.0 }\n"
        for outer, inner in rng.normal(0.0, 0.3, size=(count, 2))
    )


@pytest.fixture(scope="module")
def finished(finished_job):
    return handover(finished_job.state, finished_job.planned)


@pytest.fixture(scope="module")
def finished_pages(finished, read_pdf):
    return read_pdf(handover_pdf(finished))


@pytest.fixture(scope="module")
def long_content(job):
    made = job(LONG_NAMES + many_looks(200))
    return handover(made.state, made.planned)


def test_the_paper_says_what_was_found_and_what_was_left_with_uncertainty_and_verdict(finished_pages):
    first = finished_pages[0].text
    for words in (
        "New cartridge for the Fernhill 3", "Lantern Lane Audio Workshop", "A. Sample", "2026-11-24", "Fernhill F9",
        "Brightwater 5 (moving magnet,", "Oakmoss P1", "As found, as left", "Next check due", "2027-11-24", "Signed",
    ):  # fmt: skip
        assert words in first, words
    line = next(
        line for line in first.replace("\u00a0", " ").split("\n") if line.startswith("Tracking force")
    )
    assert "2.25 gf ± 0.03" in line, "as found, from the job"
    assert re.search(r"1\.817 gf ± 0\.02\d", line), "mean of 1.83, 1.80 and 1.82 gf"
    assert "in 1.6 to 2 gf: over 99 %" in line


def test_everything_that_proves_the_work_is_on_the_first_page_and_the_rest_follows(finished_pages):
    assert "Signed, for Lantern Lane Audio Workshop" in finished_pages[0].text
    whole = "\n".join(page.text for page in finished_pages)
    for heading in ("For the owner", "Stage by stage", "The course of the work", "Why these numbers"):
        assert heading in whole
    assert "Stylus guard on" in whole
    assert "IEC 98:1958" in whole, "a number answers why, with its source"
    assert 3 <= len(finished_pages) <= 6
    for number, page in enumerate(finished_pages, 1):
        assert f"page {number} of {len(finished_pages)}" in page.text


def test_a_job_under_way_gets_a_paper_that_says_so(demo_job, read_pdf):
    content = handover(demo_job.state, demo_job.planned)
    first = read_pdf(handover_pdf(content))[0].text
    assert "not final" in first
    assert "Work in progress" in first
    assert "Next, square: Slide it" in first
    assert "✓" not in content.headline


def test_the_same_job_gives_the_same_bytes(finished, finished_job):
    assert handover_pdf(finished) == handover_pdf(handover(finished_job.state, finished_job.planned))
    assert handover_html(finished) == handover_html(handover(finished_job.state, finished_job.planned))


def test_the_pdf_carries_the_date_of_the_job_and_only_fonts_of_the_house(finished, long_content):
    document = pypdfium2.PdfDocument(handover_pdf(finished))
    assert document.get_metadata_dict()["CreationDate"].startswith("D:20261124")
    document.close()
    names = set(re.findall(rb"/FontName\s*/([^\s/>]+)", handover_pdf(long_content)))
    assert names
    assert all(re.fullmatch(rb"[A-Z]{6}\+Groovewright(Sans|Wide)-\w+", name) for name in names), names


def test_charts_stand_on_pages_of_the_paper(finished, finished_job, read_pdf):
    charts = stage_charts(finished_job.state, finished_job.planned)
    assert [chart.alt.split(" of ")[0] for chart in charts] == [
        "Resonance", "Response", "Response", "Crosstalk", "Resonance",
    ]  # fmt: skip
    whole = "\n".join(page.text for page in read_pdf(handover_pdf(finished, charts=charts)))
    for chart in charts:
        assert chart.caption.split(",")[0] in whole.replace("\n", " ")


def test_long_names_and_two_hundred_looks_stay_within_the_margins(long_content, read_pdf):
    pages = read_pdf(handover_pdf(long_content))
    for page in pages:
        assert page.boxes
        for left, bottom, right, top in page.boxes:
            assert left >= 17.0
            assert right <= page.width_mm - 17.0
            assert bottom >= 5.0
            assert top <= page.height_mm - 10.0
    whole = "".join(page.text for page in pages)
    assert whole.count("left as it was") == 200
    assert "#set text(size: 90pt)" in whole.replace("\n", " ")


@pytest.mark.parametrize("script", SCRIPTS)
def test_other_scripts_print_in_letters_of_the_house_fonts(script, long_content, read_pdf):
    text = re.sub(r"\s", "", read_pdf(handover_pdf(long_content))[0].text)
    for word in SCRIPTS[script].split():
        assert word in text, word


@pytest.mark.parametrize(
    ("text", "foreign"),
    [
        ("Διακόσια", False), ("Ёлка ½ Ω → ✓", False), ("山田 スズキ 김", False), ("tab\tand\u0001", False),
        ("עברית", True), ("مريم", True), ("मीरा", True),
    ],
)  # fmt: skip
def test_letters_that_the_house_lacks_are_known(text, foreign):
    assert has_foreign_letters(text) is foreign


def test_a_paper_with_letters_that_the_house_lacks_says_where_they_are_sure_to_show(finished, read_pdf):
    assert MISSING_NOTE not in read_pdf(handover_pdf(finished))[0].text
    page = read_pdf(handover_pdf(replace(finished, owner="شيرين")))[0].text
    assert MISSING_NOTE in page.replace("\n", " ").replace("  ", " ")
    assert "شيرين" in handover_html(replace(finished, owner="شيرين"))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_paper_comes_on_each_paper_size(paper, finished, read_pdf):
    page = read_pdf(handover_pdf(finished, paper=PAPERS[paper]))[0]
    assert (page.width_mm, page.height_mm) == pytest.approx(
        (PAPERS[paper].width_mm, PAPERS[paper].height_mm), abs=0.05
    )
    assert PAPERS["letter"] is LETTER


def decoded(pixels):
    text, corners, _ = cv2.QRCodeDetector().detectAndDecode(pixels)
    assert corners is not None
    return text


def test_the_code_on_the_printed_page_reads_as_the_settings(finished):
    document = pypdfium2.PdfDocument(handover_pdf(finished))
    page = document[0]
    bitmap = page.render(scale=450 / 72.0, grayscale=True)  # the detector is fussy about odd sizes
    pixels = np.array(bitmap.to_numpy(), copy=True).squeeze()
    bitmap.close()
    page.close()
    document.close()
    found = decoded(pixels[pixels.shape[0] * 3 // 4 :, pixels.shape[1] * 3 // 5 :])
    assert found == finished.code_text
    assert "Cartridge: Brightwater 5" in found
    assert "Tracking force: 1.817" in found


def test_a_code_never_grows_beyond_what_a_telephone_reads(long_content):
    assert len(long_content.code_text.encode()) <= LARGEST_CODE_BYTES
    side = code_picture(long_content.code_text).paper.width_mm
    path = re.findall(r"M(\d+) (\d+)h1", svg_for_typesetter(code_picture(long_content.code_text)))
    pixels = np.full((int(side), int(side)), 255, np.uint8)
    for column, row in path:
        pixels[int(row), int(column)] = 0
    assert decoded(np.kron(pixels, np.ones((8, 8), np.uint8))) == long_content.code_text


class Page(HTMLParser):
    """What a browser would find: tags, attributes, text outside style and script."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.text, self.inside = [], [], [], ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, key, value) for key, value in attrs]
        self.inside = tag if tag in ("style", "script") else ""

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, data):
        if not self.inside:
            self.text.append(data)


def test_the_html_takes_nothing_from_outside_and_its_policy_lets_nothing_in(finished, references):
    text = handover_html(finished)
    assert references(text) == []
    page = Page(text)
    assert "script" not in page.tags
    assert not [key for _, key, _ in page.attributes if key == "style" or key.startswith("on")]
    policy = next(value for _, key, value in page.attributes if key == "content" and "default-src" in value)
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


def test_what_people_typed_is_never_markup_in_the_html(long_content):
    page = Page(handover_html(long_content))
    assert "script" not in page.tags
    assert not [key for _, key, _ in page.attributes if key.startswith("on")]
    whole = "".join(page.text)
    assert "<script>alert(1)</script><img src=x onerror=alert(2)>" in whole
    for words in SCRIPTS.values():
        assert words in whole


def test_control_characters_and_unknown_scripts_break_no_format(job, read_pdf):
    text = (
        '[job]\ntitle = "a\\u0001b\\u001b[31m \\u202e"\n'
        'owner = "\\u0000\\n\\n\U0001f3b5 \u05e2\u05d1\u05e8\u05d9\u05ea"\n'
        '[arm]\nname = "x"\npivot_to_spindle_mm = 222.0\n[cartridge_in]\nname = "\\u0008\\uffff y"\n'
    )
    made = job(text)
    content = handover(made.state, made.planned)
    assert "Work in progress" in read_pdf(handover_pdf(content))[0].text
    ET.fromstring(svg_for_typesetter(code_picture(content.code_text)))
    assert "y" in "".join(Page(handover_html(content)).text)


@pytest.mark.parametrize(("outer", "inner"), [(45.0, -45.0), (20.0, 20.0)])
def test_readings_far_off_still_give_a_paper(outer, inner, job, read_pdf):
    look = f"[[step]]\nlook = {{ outer = {outer}, inner = {inner} }}\n"
    made = job("[arm]\npivot_to_spindle_mm = 222.0\n" + look)
    assert "Work in progress" in read_pdf(handover_pdf(handover(made.state, made.planned)))[0].text


def test_the_html_says_what_the_pdf_says(finished):
    whole = "".join(Page(handover_html(finished)).text)
    for row in finished.settings:
        assert row.left in whole
        assert row.verdict in whole
    assert finished.headline in whole
    assert "2027-11-24" in whole


def test_the_html_fits_a_telephone_in_a_browser(finished, long_content, chromium, tmp_path):
    for name, content in (("finished", finished), ("long", long_content)):
        path = tmp_path / f"{name}.html"
        path.write_text(handover_html(content), "utf-8")
        frame = tmp_path / "frame.html"
        # a page in a frame of 390 px reports its own widest point through the frame's title
        frame.write_text(
            f"<title>?</title><iframe id=f src='{path.name}' style='width:390px;height:800px'></iframe><script>"
            "onload=()=>{const d=document.getElementById('f').contentDocument.documentElement;"
            "document.title=d.scrollWidth+' of '+d.clientWidth}</script>",
            "utf-8",
        )
        dom = chromium("--allow-file-access-from-files", "--dump-dom", frame.as_uri())
        widest, seen = map(int, re.search(r"<title>(\d+) of (\d+)</title>", dom).groups())
        assert seen > 300
        assert widest <= seen


def test_the_next_check_is_a_year_on_or_what_practice_says():
    assert next_check_text("2026-11-24").startswith("2027-11-24")
    assert next_check_text("2028-02-29 in the evening").startswith("2029-02-28")
    assert "500 hours" in next_check_text("yesterday")
    assert parsed_date("2026-13-40") is None
    assert parsed_date("0001-01-01") is None
    assert parsed_date("2026-11-24") == date(2026, 11, 24)


def test_the_next_check_can_be_given(finished_job):
    content = handover(finished_job.state, finished_job.planned, next_check="in spring")
    assert content.next_check == "in spring"


@pytest.mark.parametrize(
    ("key", "value", "sd", "text"),
    [
        ("yaw_outer_deg", -0.304, 0.21, "−0.30° ± 0.21"),
        ("yaw_outer_deg", 1.5, 0.3, "+1.5° ± 0.3"),
        ("force_gf", 1.8167, 0.0217, "1.817 gf ± 0.022"),
        ("force_gf", 1.8167, 0.0296, "1.82 gf ± 0.03"),
        ("overhang_mm", 17.3, None, "17.30 mm"),
        ("load_ohm", 47000.0, None, "47000 Ω"),
        ("resonance_hz", 8.89, 0.83, "8.9 Hz ± 0.8"),
        ("azimuth_deg", 0.0, 12.0, "0° ± 12"),
    ],
)
def test_a_number_has_the_digits_that_its_uncertainty_bears_out(key, value, sd, text):
    """One or two digits of the uncertainty, and as many decimals in the value (GUM, JCGM 100:2008, 7.2.6)."""
    assert number_text(key, value, sd).replace("\u00a0", " ") == text


def test_no_probability_is_ever_certain():
    assert percent(1.0) == "over 99 %"
    assert percent(0.0) == "under 1 %"
    assert percent(0.874) == "87 %"


def test_a_setting_without_a_name_of_its_own_is_called_by_its_field():
    assert setting_name("cantilever_rest_mm") == "Cantilever rest"
    assert setting_name("force_gf") == "Tracking force"


def test_the_first_look_stands_for_what_was_found_only_where_nothing_was_noted(job):
    text = (
        "[arm]\npivot_to_spindle_mm = 222.0\n{}[[step]]\nlook = {{ outer = 0.4, inner = 'slightly-out' }}\n"
    )
    without, noted = (
        {row.name: row.found for row in comparison(made.state, made.planned)}
        for made in (job(text.format("")), job(text.format("[found]\nyaw_outer_deg = 1.5\n")))
    )
    assert without["Yaw at the outer point"].replace("\u00a0", " ") == "+0.40° ± 0.30 first look"
    assert without["Yaw at the inner point"] == "slightly out first look"
    assert noted["Yaw at the outer point"].startswith("+1.5°")
    assert noted["Yaw at the inner point"] == ""


@pytest.mark.parametrize(
    "text",
    [
        "[job]\ntitle = 'nothing known'\n",
        "[arm]\nkind = 'parallel'\n",
        "[arm]\nkind = 'straight-underhung'\npivot_to_spindle_mm = 222.0\n[[step]]\nlook = { outer = 0.4 }\n",
        "[arm]\nheadshell = 'moulded-in'\npivot_to_spindle_mm = 222.0\n",
        "[arm]\nheadshell = 'fixed-holes'\npivot_to_spindle_mm = 222.0\n"
        "effective_length_mm = 230.0\noffset_angle_deg = 5.0\n",
    ],
    ids=["empty", "parallel", "underhung", "moulded-in", "no-null"],
)
def test_every_kind_of_job_has_a_paper(text, job, read_pdf):
    made = job(text)
    content = handover(made.state, made.planned)
    assert read_pdf(handover_pdf(content, charts=stage_charts(made.state, made.planned)))
    assert "<main>" in handover_html(content)


def test_the_paper_says_what_a_recording_proved_as_found_and_as_left(finished, finished_job, finished_pages):
    assert finished_job.planned.next_stage == "done"
    whole = "\n".join(page.text for page in finished_pages).replace("\u00a0", " ")
    assert "Proved by recording" in whole
    lines = {row.name: row for row in finished.heard.rows}
    assert (lines["Coils"].found, lines["Coils"].left) == ("one reversed", "correct")
    lean = next(line for line in whole.split("\n") if line.startswith("Lean "))
    assert re.fullmatch(r"Lean \+1\.\d+° ± 0\.\d+ \+0\.\d+° ± 0\.\d+ within ±0\.5°: over 99 %\s*", lean)
    part = next(part for part in finished.parts if part.name == "Listen")
    assert "predicted 8.9 Hz" in dict(part.rows)["resonance heard, vertical"]
    assert "lean" not in dict(part.rows), "said in the section already"
    assert "fernhill-as-found.wav" in finished.heard.source
    page = Page(handover_html(finished))
    assert "Proved by recording" in " ".join(page.text)
    assert "one reversed" in " ".join(page.text)


def test_a_job_without_a_test_record_is_finished_and_says_that_nothing_is_proved(
    job, without_recordings, read_pdf
):
    quiet, finish = without_recordings
    made = job(f'{quiet}{finish}\n[[step]]\nlisten_closed = {{ why = "no test recording at hand" }}\n')
    assert made.planned.next_stage == "done"
    content = handover(made.state, made.planned)
    assert content.heard.rows == ()
    whole = " ".join(page.text for page in read_pdf(handover_pdf(content)))
    assert "Not proved by a recording: no test recording at hand." in whole.replace("\n", " ")
    silent = job(quiet)
    assert handover(silent.state, silent.planned).heard is None


def test_the_charts_of_a_recording_show_only_what_was_measured(finished_job):
    state = finished_job.state
    for draw in (response_svg, crosstalk_svg, resonance_svg):
        assert draw(state).startswith("<?xml")
        assert draw(state) == draw(state), "the same each time"
        assert draw(replace(state, listening=())) is None
    bare = replace(last_heard(state), curves=())
    assert response_svg(replace(state, listening=(bare,))) is None


def test_the_course_says_which_look_was_read_from_a_photo(job):
    read = Looked(0.4, None, 0.05, "2 photos, flag")
    made = job(f"[arm]\npivot_to_spindle_mm = 222.0\n{step_toml(read)}[[step]]\nlook = {{ outer = 0.2 }}\n")
    course = handover(made.state, made.planned).course
    assert course[0][1:] == (
        "look, read from 2 photos, flag",
        "outer +0.40°\u00a0±\u00a00.05",
        "inner not read",
    )
    assert course[1][1] == "look"
