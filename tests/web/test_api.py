"""The API: right answers, one shape of error, and no server error for anything its schema can think of."""

from __future__ import annotations

import warnings
from typing import Any

import pytest
from bench_under_test import Running, TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from groovewright.quantities import InputError
from groovewright.store import Store, open_store, read_log
from groovewright.web import Bench, make_app
from groovewright.web.api_events import event_schema
from groovewright.web.first_job import add_demo_job
from groovewright.web.stage_page import stage_names
from groovewright.web.typed import event_from_values

QUICK = settings(deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None)


def started(running: Running):
    client = running.client()
    client.headers["x-bench-token"] = client.get("/api/session").json()["token"]
    return client


def test_a_job_is_begun_extended_and_read(local: Running, store: Store) -> None:
    client = started(local)
    arm = {
        "kind": "described",
        "section": "arm",
        "record": {"name": "Alder Twelve", "pivot_to_spindle_mm": 300.0},
    }
    made = client.post("/api/jobs", json={"events": [arm]})
    assert (made.status_code, made.json()) == (201, {"number": 2, "sequence": 1})
    look = {"kind": "look", "outer": 0.0, "inner": "slightly-out"}
    added = client.post("/api/jobs/2/events", json={"event": look, "expected_sequence": 1})
    assert (added.status_code, added.json()) == (201, {"sequence": 2})
    late = client.post("/api/jobs/2/events", json={"event": look, "expected_sequence": 1})
    assert late.status_code == 409
    assert late.json()["error"]["changed"][0]["event"]["inner"] == "slightly-out"
    plan = client.get("/api/jobs/2/plan").json()
    assert plan["next_stage"] in {stage["stage"] for stage in plan["stages"]}
    assert client.get("/api/jobs/2").json()["arm"] == "Alder Twelve"
    assert client.get("/api/suggest?kind=arm&text=ald").json()["names"][0]["name"] == "Alder Twelve"


def test_what_an_event_says_is_checked_as_if_it_were_typed(local: Running, store: Store) -> None:
    client = started(local)
    before = read_log(store, 1)
    bad = (
        {"kind": "weighed", "force_gf": 1e9},
        {"kind": "weighed", "force_gf": "much"},
        {"kind": "weighed"},
        {"kind": "nothing"},
        {},
        {"kind": "undone", "x": 1},
        {"kind": "look"},
        {"kind": "described", "section": "arm", "record": {"pivot_to_spindle_mm": -3}},
        {"kind": "described", "section": "arm", "record": 3},
        {"kind": "described", "section": ["arm"], "record": {}},
        {"kind": ["weighed"], "force_gf": 2},
    )
    for event in bad:
        answer = client.post("/api/jobs/1/events", json={"event": event, "expected_sequence": len(before)})
        assert (answer.status_code, set(answer.json()["error"]) >= {"code", "message"}) == (422, True), event
    assert read_log(store, 1) == before


def test_what_if_answers_and_keeps_nothing(local: Running, store: Store) -> None:
    client = started(local)
    before = read_log(store, 1)
    move = {"kind": "moved", "slide_mm": 1.1, "turn_deg": 0.6}
    now, then = (
        client.post("/api/jobs/1/what-if", json={"events": events}).json() for events in ([], [move])
    )
    assert now != then
    assert read_log(store, 1) == before


@pytest.mark.parametrize(
    ("path", "status", "code"),
    [("/api/jobs/99", 404, "not-there"), ("/api/jobs/0", 422, "input"), ("/api/x", 404, "not-there"),
     ("/api/jobs?page=0", 422, "input"), ("/api/suggest?kind=x", 422, "input")],
)  # fmt: skip
def test_errors_have_one_shape(local: Running, path: str, status: int, code: str) -> None:
    answer = local.client().get(path)
    assert (answer.status_code, answer.json()["error"]["code"]) == (status, code)


def ask(client: TestClient, case: Any, headers: dict[str, str], met: set[tuple[str, int]]) -> None:
    """Send one case; a server error raises here, as the client passes exceptions on."""
    if case.path_parameters and case.path_parameters.get("number", 0) > 3:
        case.path_parameters["number"] = 1  # a job that is there
    sent = case.as_transport_kwargs(base_url="http://127.0.0.1")
    try:
        answer = client.request(
            sent["method"], sent["url"], params=sent.get("params"),
            headers={**dict(sent.get("headers") or {}), **headers}, json=sent.get("json"), content=sent.get("data"),
        )  # fmt: skip
    except UnicodeEncodeError:  # a header that no client can send
        return
    met.add((case.operation.label, answer.status_code))
    assert answer.status_code < 500
    if answer.status_code >= 400:
        assert set(answer.json()["error"]) >= {"code", "message"}


def test_the_api_has_no_server_error_for_what_its_schema_can_think_of(tmp_path_factory) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import schemathesis

    store = open_store(str(tmp_path_factory.mktemp("fuzz") / "records.sqlite3"))
    add_demo_job(store)
    bench = Bench(store, hosts=frozenset({"127.0.0.1", "localhost"}))
    from groovewright.web.app import inner_app
    from groovewright.web.session import cookie_of, new_session, token_of

    session = new_session(bench.now())
    headers = {
        "x-bench-token": token_of(session, bench.secret),
        "cookie": f"bench={cookie_of(session, bench.secret)}",
    }
    client = TestClient(make_app(bench), "http://127.0.0.1")
    schema = schemathesis.openapi.from_dict(inner_app(bench).openapi())
    met: set[tuple[str, int]] = set()
    labels: set[str] = set()
    for result in schema.get_all_operations():
        operation = result.ok()
        labels.add(operation.label)
        settings(QUICK, max_examples=12)(
            given(case=operation.as_strategy())(lambda case: ask(client, case, headers, met))
        )()
    store.close()
    assert {label for label, _ in met} == labels
    assert {200, 422} <= {status for _, status in met}


NUMBERS = (
    0,
    0.0,
    0.05,
    0.5,
    1,
    1.8,
    2.5,
    5,
    9.5,
    12,
    20,
    45,
    60.325,
    66,
    100,
    121,
    146.05,
    200,
    222,
    300,
    500,
    47000,
    -1,
    -3.5,
    -25,
)
WORDS = (
    "square", "far-in", "pivoted", "straight-underhung", "parallel", "slotted", "fixed-holes", "moulded-in", "bayonet",
    "moving-coil", "lofgren-b", "17cm", "66:121", "fine line", "10", "static", "guard-on", "45", "against",
    "2026-03-14",
)  # fmt: skip


def plausible(schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    """Values that a bench might give: most pass the checks, many combinations make no sense."""
    if "const" in schema:
        return st.just(schema["const"])
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    if "anyOf" in schema:
        return st.one_of(*(plausible(part) for part in schema["anyOf"]))
    if schema["type"] == "object":
        needed = {key: plausible(schema["properties"][key]) for key in schema["required"]}
        rest = {key: plausible(part) for key, part in schema["properties"].items() if key not in needed}
        return st.fixed_dictionaries(needed, optional=rest)
    if schema["type"] == "array" and schema["items"] != {"type": "number"}:
        return st.lists(plausible(schema["items"]), max_size=2)
    if schema["type"] == "array":
        return st.lists(st.sampled_from(NUMBERS), max_size=4)
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    pools = {"number": NUMBERS, "string": WORDS, "boolean": (True, False), "null": (None,)}
    return st.one_of(*(st.sampled_from(pools[kind]) for kind in kinds))


def test_every_job_that_the_record_takes_has_a_plan_and_pages(local: Running, store: Store) -> None:
    client = started(local)
    client.headers["origin"] = "http://127.0.0.1"
    taken: list[int] = []
    events = st.one_of(*(plausible(part) for part in event_schema()["anyOf"]))

    def one(values: list[dict[str, Any]]) -> None:
        kept = []
        for value in values:
            try:
                event_from_values(value)
            except InputError:
                continue
            kept.append(value)
        if not kept:
            return
        number = client.post("/api/jobs", json={"events": kept}).json()["number"]
        assert client.get(f"/api/jobs/{number}/plan").status_code == 200
        for stage in stage_names():
            assert client.get(f"/jobs/{number}/{stage}").status_code == 200
        taken.append(len(kept))

    settings(QUICK, max_examples=40)(given(values=st.lists(events, min_size=3, max_size=14))(one))()
    assert sum(taken) > 40
