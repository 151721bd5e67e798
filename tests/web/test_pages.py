"""The pages as a browser without JavaScript sees them."""

from __future__ import annotations

import re

import pytest
from bench_under_test import Running, change, sequence_in, token_in

from groovewright.job import Described, fold
from groovewright.job.events import Unchecked
from groovewright.job.plan import STAGES
from groovewright.job.records import Cartridge, Deck
from groovewright.store import Store, append, list_jobs, new_job, read_job, read_log
from groovewright.web.stage_page import stage_names


def test_every_stage_of_the_plan_has_a_page_with_a_drawing_and_a_sentence(local: Running) -> None:
    client = local.client()
    assert stage_names() == (*STAGES, "handover")
    for stage in stage_names():
        text = client.get(f"/jobs/1/{stage}").text
        assert text.count("<svg") >= 2, f"{stage} shows no drawing"
        assert re.search(r'class="sentence"[^>]*>[^<]{10,}<', text), f"{stage} says nothing"


def test_the_list_finds_jobs_and_turns_pages(local: Running, store: Store) -> None:
    client = local.client()
    for number in range(24):
        home = client.get("/new").text
        client.post("/new", data={"token": token_in(home), "deck.name": f"Alder Twelve {number}"})
    first = client.get("/").text
    assert (first.count("<li><a href"), "25 jobs in all" in first) == (20, True)
    assert client.get("/?page=2").text.count("<li><a href") == 5
    assert client.get("/?q=fernhill+sample").text.count("<li><a href") == 1
    assert "No job has these words" in client.get("/?q=nothing").text
    assert "has no word to search for" in client.get("/?q=!!!").text


def test_a_name_known_from_earlier_brings_what_was_said_of_it(local: Running, store: Store) -> None:
    client = local.client()
    home = client.get("/new").text
    client.post("/new", data={"token": token_in(home), "arm.name": "fernhill f9"})
    arm = fold(read_log(store, 2)).arm
    assert arm is not None
    assert (arm.pivot_to_spindle_mm, arm.effective_mass_g) == (222.0, 11.0)


@pytest.mark.parametrize(
    ("typed", "millimetres"),
    [("223.5", 223.5), ("223,5", 223.5), ("8.75 in", 222.25), ('8 3/4"', 222.25), ("22.2 cm", 222.0)],
)
def test_lengths_are_taken_in_the_units_of_the_bench(
    local: Running, store: Store, typed: str, millimetres: float
) -> None:
    answer = change(local.client(), "intake", "describe/arm", arm__pivot_to_spindle_mm=typed)
    assert answer.status_code == 200
    arm = fold(read_log(store, 1)).arm
    assert arm is not None
    assert arm.pivot_to_spindle_mm == pytest.approx(millimetres, abs=1e-9)
    assert arm.effective_mass_g == 11.0, "a field that was not in the form keeps its value"


def test_what_is_not_allowed_is_not_saved_and_stands_in_the_form_again(local: Running, store: Store) -> None:
    answer = change(local.client(), "weigh", "step/weighed", weighed__force_gf="180")
    assert answer.status_code == 422
    assert "Not saved: The gauge reads" in answer.text
    assert 'value="180"' in answer.text
    assert len(read_log(store, 1)) == int(sequence_in(answer.text))
    assert "Saved, step" not in answer.text


def test_saving_what_is_so_already_writes_nothing(local: Running, store: Store) -> None:
    before = len(read_log(store, 1))
    change(local.client(), "intake", "describe/deck", deck__name="Fernhill 3")
    assert len(read_log(store, 1)) == before


def test_undo_and_redo_have_no_limit(local: Running, store: Store) -> None:
    client = local.client()
    steps = len(read_log(store, 1))
    state = fold(read_log(store, 1))
    for _ in range(steps):
        assert change(client, "square", "undo").status_code == 200
    assert fold(read_log(store, 1)).arm is None
    assert change(client, "square", "undo").status_code == 422
    for _ in range(steps):
        assert change(client, "square", "redo").status_code == 200
    assert change(client, "square", "redo").status_code == 422
    assert fold(read_log(store, 1)) == state
    assert len(read_log(store, 1)) == 3 * steps


def test_the_second_bench_is_shown_what_changed_and_keeps_what_it_typed(local: Running, store: Store) -> None:
    client = local.client()
    text = client.get("/jobs/1/weigh").text
    log = read_job(store, 1)
    from groovewright.job.events import Weighed

    append(store, 1, Weighed(1.9), log.sequence)
    form = {"token": token_in(text), "expected": sequence_in(text), "weighed.force_gf": "1.77"}
    answer = client.post("/jobs/1/weigh/step/weighed", data=form)
    assert answer.status_code == 409
    assert "weighing: the gauge reads 1.9 gf" in answer.text
    assert 'value="1.77"' in answer.text
    assert len(read_log(store, 1)) == log.sequence + 1
    assert sequence_in(answer.text) == str(log.sequence + 1), "saving once more would be right"


def test_what_if_changes_the_page_and_not_the_record(local: Running, store: Store) -> None:
    client = local.client()
    before = read_log(store, 1)
    plain = client.get("/jobs/1/match").text
    tried = client.get("/jobs/1/match?whatif=1&arm.effective_mass_g=30&phono.load_pF=500").text
    assert "What if: nothing here is saved" in tried
    assert "Saved, step" not in tried
    numbers = [re.search(r"resonance, vertical</dt><dd>([\d.]+) Hz", text) for text in (plain, tried)]
    assert all(numbers)
    # 1 / (2 pi sqrt(M C)): from 18.5 g to 37.5 g total the frequency falls by sqrt(18.5 / 37.5)
    ratio = float(numbers[1][1]) / float(numbers[0][1])
    assert ratio == pytest.approx((18.5 / 37.5) ** 0.5, abs=0.02)
    assert read_log(store, 1) == before


def shown(text: str) -> tuple[list[str], list[str]]:
    """Return the figures and the drawings of a page."""
    return re.findall(r"<dd[^>]*>(.*?)</dd>", text), re.findall(r"<svg.*?</svg>", text, re.DOTALL)


def form_of(text: str) -> dict[str, str]:
    """Return what the what-if's form holds, as a browser without JavaScript would send it."""
    form = re.search(r'<form method="get".*?</form>', text, re.DOTALL)
    assert form
    sent = dict(re.findall(r'<input[^>]* name="([^"]+)" value="([^"]*)"', form[0]))
    for name, choices in re.findall(r'<select[^>]* name="([^"]+)">(.*?)</select>', form[0], re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', choices)
        sent[name] = chosen[1] if chosen else ""
    return sent


@pytest.mark.parametrize("stage", ["match", "weigh", "square", "level"])
def test_a_what_if_without_javascript_that_changes_no_field_shows_the_job_as_it_is(
    local: Running, store: Store, stage: str
) -> None:
    client = local.client()
    for reading in ("1.74", "1.84"):
        change(client, "weigh", "step/weighed", weighed__force_gf=reading)
    before = read_log(store, 1)
    fields = form_of(client.get(f"/jobs/1/{stage}?whatif=1").text)
    same = client.get(f"/jobs/1/{stage}", params=fields).text
    assert shown(same) == shown(client.get(f"/jobs/1/{stage}").text)
    assert form_of(same) == fields
    assert read_log(store, 1) == before


def test_a_what_if_keeps_what_is_tried_in_its_fields_and_the_rest_as_it_was(
    local: Running, store: Store
) -> None:
    client = local.client()
    fields = form_of(client.get("/jobs/1/weigh?whatif=1").text)
    tried = client.get("/jobs/1/weigh", params={**fields, "weighed.force_gf": "1.55"}).text
    assert form_of(tried) == {**fields, "weighed.force_gf": "1.55"}
    assert shown(tried) != shown(client.get("/jobs/1/weigh").text)


def test_millimetres_stand_with_their_inches(local: Running) -> None:
    client = local.client()
    change(client, "intake", "describe/found", found__overhang_mm="15")
    text = client.get("/jobs/1/intake").text
    assert "8.74 in" in text, "222 mm / 25.4"
    assert "0.591 in" in text, "15 mm / 25.4"


def test_customers_data_is_escaped_everywhere(local: Running, store: Store) -> None:
    client = local.client()
    evil = "<script>alert(1)</script>\"'>&"
    for section, key in (("job", "title"), ("job", "owner"), ("arm", "name"), ("cartridge_in", "name")):
        assert (
            change(client, "intake", f"describe/{section}", **{f"{section}__{key}": evil}).status_code == 200
        )
    change(client, "level", "step/antiskating", antiskating__setting=evil)
    pages = ["/", "/?q=script", "/forget?customer=" + evil, "/jobs/1/history", "/jobs/1/sheet", "/new"]
    pages += [f"/jobs/1/{stage}" for stage in stage_names()]
    for path in pages:
        assert "<script>alert" not in client.get(path).text, path


def test_a_customers_data_goes_and_the_measurements_stay(local: Running, store: Store) -> None:
    client = local.client()
    form = {"token": token_in(client.get("/forget").text), "customer": "A. Sample", "again": "A Sample"}
    assert client.post("/forget", data=form).status_code == 422
    assert fold(read_log(store, 1)).job.owner == "A. Sample"
    answer = client.post("/forget", data={**form, "again": "A. Sample"})
    assert "1 job" in answer.text
    state = fold(read_log(store, 1))
    assert (state.job.owner, len(state.weighings)) == ("", 3)
    assert "A. Sample" not in client.get("/").text


@pytest.mark.parametrize(
    ("path", "kind", "start"),
    [
        ("sheet.pdf", "application/pdf", b"%PDF-"),
        ("sheet.pdf?paper=letter&measured_x_mm=99.5&measured_y_mm=100", "application/pdf", b"%PDF-"),
        ("sheet.svg", "image/svg+xml", b"<svg"),
        ("handover.pdf", "application/pdf", b"%PDF-"),
        ("handover.html", "text/html; charset=utf-8", b"<!doctype html>"),
        ("guide.pdf", "application/pdf", b"%PDF-"),
        ("guide.html", "text/html; charset=utf-8", b"<!doctype html>"),
        ("export.json", "application/json", b'{"format": "groovewright-record"'),
    ],
)
def test_papers_can_be_taken_away(local: Running, path: str, kind: str, start: bytes) -> None:
    answer = local.client().get(f"/jobs/1/{path}")
    assert (answer.status_code, answer.headers["content-type"]) == (200, kind)
    assert answer.content.lstrip()[:60].lower().startswith(start.lower()) or start in answer.content[:200]
    way = answer.headers["content-disposition"].split(";")[0]
    assert way == ("inline" if kind in ("application/pdf", "image/svg+xml") else "attachment")


def test_the_scale_check_leads_to_a_corrected_sheet(local: Running) -> None:
    client = local.client()
    assert "Print it once more" not in client.get("/jobs/1/sheet").text
    off = client.get("/jobs/1/sheet?paper=a4&measured_x_mm=99.2&measured_y_mm=99,6").text
    assert "Across −0.8 %, along −0.4 %" in off
    link = re.search(r'href="(/jobs/1/sheet.pdf\?[^"]*measured_x[^"]*)"', off)
    assert link
    assert client.get(link[1].replace("&amp;", "&")).content.startswith(b"%PDF-")
    assert "It is true" in client.get("/jobs/1/sheet?measured_x_mm=100.1&measured_y_mm=99.9").text
    assert (
        "a printer isn&#39;t that far off"
        in client.get("/jobs/1/sheet?measured_x_mm=10&measured_y_mm=100").text
    )


def test_an_owners_text_becomes_readings_and_an_answer(local: Running, store: Store) -> None:
    client = local.client()
    page = client.get("/jobs/1/distance").text
    said = "Moved as told: yes. Outer point: square. Inner point: out 1.2 degrees."
    form = {"token": token_in(page), "text": said}
    before = read_job(store, 1).sequence
    read = client.post("/jobs/1/distance", data=form)
    assert "Understood" in read.text
    assert read_job(store, 1).sequence == before, "reading it saves nothing"
    saved = client.post("/jobs/1/distance", data={**form, "save": "1", "expected": str(before)})
    assert "Saved, step" in saved.text
    assert fold(read_log(store, 1)).squaring[-1].inner == -1.2
    form["expected"] = str(before)
    assert "Outer" not in client.post("/jobs/1/answer.html", data=form).headers["content-type"]
    wrong = client.post("/jobs/1/distance", data={**form, "text": "hello"})
    assert (wrong.status_code, "names neither" in wrong.text) == (422, True)


def test_a_job_file_and_an_export_become_jobs(local: Running, store: Store) -> None:
    client = local.client()
    token = token_in(client.get("/new").text)
    toml = b'[deck]\nname = "Juniper S"\n[arm]\npivot_to_spindle_mm = 214.0\n'
    answer = client.post("/new/file", data={"token": token}, files={"file": ("job.toml", toml)})
    assert answer.url.path == "/jobs/2/intake" or answer.url.path.startswith("/jobs/2/")
    export = client.get("/jobs/2/export.json").content
    again = client.post("/new/file", data={"token": token}, files={"file": ("export.json", export)})
    assert again.url.path.startswith("/jobs/2/"), "a job that is here already is not taken twice"
    bad = client.post("/new/file", data={"token": token}, files={"file": ("x", b"\x00\xff\xfe")})
    assert (bad.status_code, "is not text" in bad.text) == (422, True)
    assert list_jobs(store).total == 2


def test_going_back_begins_a_job_with_the_cartridges_changed_over(local: Running, store: Store) -> None:
    client = local.client()
    token = token_in(client.get("/jobs/1/handover").text)
    answer = client.post("/jobs/1/back", data={"token": token})
    assert answer.url.path == "/jobs/2/intake"
    state = fold(read_log(store, 2))
    assert state.cartridge_in is not None
    assert state.cartridge_in.name == "Oakmoss P1"


def test_a_tick_of_the_mounting_list_is_taken_away_by_itself(local: Running, store: Store) -> None:
    client = local.client()
    new_job(store, [Described("deck", Deck("Alder Twelve"))])
    for what in ("guard-on", "found-noted"):
        change(client, "mount", "tick", job=2, what=what)
    text = client.get("/jobs/2/mount").text
    assert text.count('action="/jobs/2/mount/untick"') == 2
    assert change(client, "mount", "untick", job=2, what="guard-on").status_code == 200
    assert fold(read_log(store, 2)).checks == ("found-noted",)
    change(client, "mount", "untick", job=2, what="guard-on")
    assert read_log(store, 2)[-1] == Unchecked("guard-on"), "what has no tick loses none"
    assert len(read_log(store, 2)) == 4
    assert "tick taken away: Stylus guard on" in client.get("/jobs/2/history").text
    change(client, "mount", "undo", job=2)
    assert fold(read_log(store, 2)).checks == ("guard-on", "found-noted")


def test_the_mounting_list_is_ticked_once_each(local: Running, store: Store) -> None:
    client = local.client()
    token = token_in(client.get("/new").text)
    client.post("/new", data={"token": token, "arm.name": "Juniper S"})
    assert change(client, "mount", "tick", job=2, what="guard-on").status_code == 200
    change(client, "mount", "tick", job=2, what="guard-on")
    assert fold(read_log(store, 2)).checks == ("guard-on",)
    assert change(client, "mount", "tick", job=2, what="no-such").status_code == 422


def test_the_balance_shows_what_is_to_be_set_before_anything_was_weighed(local, store):
    job = new_job(store, (Described("cartridge_in", Cartridge(force_min_gf=1.6, force_max_gf=2.0)),))
    text = local.client().get(f"/jobs/{job}/weigh").text
    assert "set to 1.80 gf = 17.7 mN" in text
    assert "± 0.00" not in text
