import asyncio
import gc
import json
import logging
import os
import subprocess
import sys
import threading
import time

import numba
import pytest
from litestar.testing import TestClient

from airbough.calls import CALLS
from airbough_service.api import app as app_module
from airbough_service.api import compilers as compilers_module
from airbough_service.api import readiness as readiness_module
from airbough_service.api.app import create_app
from airbough_service.api.document import examples
from airbough_service.api.observe import logs
from airbough_service.api.readiness import Readiness
from airbough_service.api.settings import Settings
from airbough_service.combined import registry
from airbough_service.core import compiling
from airbough_service.core.warm_parts import LIGHT
from airbough_service.terms.refusal import NotFiniteError
from serving import family, has_ended, have_all_compiled

AIR = "/v1/air?units=us"


@pytest.fixture(autouse=True)
def _collector_as_it_was():
    """What gets ready beside requests sets the collector of this process last of all: the other tests keep theirs."""
    before = gc.get_threshold()
    yield
    for thread in threading.enumerate():
        if thread.name == "warming":
            thread.join(60)
    gc.set_threshold(*before)
    gc.unfreeze()


def test_a_probe_may_add_what_it_likes_to_the_query(client):
    assert client.get("/health/live?x=1&x=1&y").json() == {"alive": True}
    assert client.get("/health/ready?%FF").json() == {"ready": True, "complete": True}


def test_every_answer_has_an_id_and_the_headers_that_keep_browsers_careful(client):
    for path in (AIR, "/nowhere", "/docs", "/health/live", "/openapi.json"):
        headers = client.get(path).headers
        assert len(headers["x-request-id"]) == 32
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["content-security-policy"].startswith("default-src 'none'; script-src 'self'")
        assert "server" not in headers


def test_the_callers_id_is_kept_where_it_is_a_plain_word(client):
    assert client.get(AIR, headers={"x-request-id": "sheet-7.A_1"}).headers["x-request-id"] == "sheet-7.A_1"
    for strange in ("a b", "x" * 65, "<script>", ""):
        assert client.get(AIR, headers={"x-request-id": strange}).headers["x-request-id"] != strange


def test_the_service_says_that_it_lives_and_is_ready(client):
    assert client.get("/health/live").json() == {"alive": True}
    assert client.get("/health/ready").json() == {"ready": True, "complete": True}


def test_before_the_solver_is_warm_the_service_lives_and_is_not_ready():
    cold = TestClient(create_app(Settings()))  # not entered, so never started
    assert cold.get("/health/live").status_code == 200
    answer = cold.get("/health/ready")
    assert answer.status_code == 503
    assert answer.json()["type"] == "/problems/busy"
    assert int(answer.headers["retry-after"]) > 0


def test_while_the_solver_is_compiled_the_service_listens_and_tells_questions_when_to_come_again(monkeypatch):
    may_go_on, warm = threading.Event(), Readiness.warm

    def slowly(readiness):
        assert may_go_on.wait(120)
        warm(readiness)

    monkeypatch.setattr(app_module, "all_noted", lambda: False)
    monkeypatch.setattr(Readiness, "warm", slowly)
    asked = {"question": {"units": "us", "diameter": 6}}
    with TestClient(create_app(Settings(), at_once=True)) as client:
        refused = [client.get("/v1/air?units=us"), client.get("/health/ready"), client.post("/v1/batches", content=b"")]
        refused.append(client.post("/v1/trees/balance", json=asked))
        assert {(answer.status_code, answer.json()["type"]) for answer in refused} == {(503, "/problems/busy")}
        assert all(int(answer.headers["retry-after"]) > 0 for answer in refused)
        assert client.get("/health/live").status_code == client.get("/openapi.json").status_code == 200
        may_go_on.set()
        until = time.monotonic() + 120
        while client.get("/health/ready").status_code == 503:
            assert time.monotonic() < until
            time.sleep(0.05)
        assert client.get("/v1/air?units=us").status_code == 200


@numba.njit
def not_compiled_yet(number):
    return number + 1


def test_ready_means_for_light_questions_and_the_others_are_told_when_to_come_again(monkeypatch, tmp_path):
    done = tmp_path / "done"
    program = f"import pathlib, time\nwhile not pathlib.Path({str(done)!r}).exists(): time.sleep(0.02)"
    monkeypatch.setattr(compilers_module, "COMPILE", (sys.executable, "-c", program))
    monkeypatch.setattr(compiling, "noted", lambda part: part in LIGHT or done.exists())
    monkeypatch.setitem(registry._ANSWERING, "sizing", lambda _: not_compiled_yet(1))
    with TestClient(create_app(Settings(), at_once=True), raise_server_exceptions=False) as client:
        said = until(client, lambda said: said.get("ready"))
        assert said == {"ready": True, "complete": False}
        assert client.get(AIR).status_code == 200
        assert client.post("/v1/trees/balance", json=examples.request("balance")).status_code == 200
        batch = {"content": b"", "headers": {"content-type": "application/x-ndjson"}}
        further = [client.post("/v1/trees/sizing", json=examples.request("sizing")) for _ in range(2)]
        for refused in (*further, client.post("/v1/batches", **batch)):
            assert (refused.status_code, refused.json()["type"]) == (503, "/problems/busy")
            assert 1 <= int(refused.headers["retry-after"]) <= 30
        assert not not_compiled_yet.signatures, "a request compiled it"
        done.touch()
        until(client, lambda said: said["complete"])
        assert client.post("/v1/batches", **batch).status_code == 200
        client.post("/v1/trees/sizing", json=examples.request("sizing"))
        assert not_compiled_yet.signatures


def until(client, reached):
    """Return what the service says of its readiness once that is reached."""
    latest = time.monotonic() + 120
    while not reached(said := client.get("/health/ready").json()):
        assert time.monotonic() < latest
        time.sleep(0.05)
    return said


def test_other_processes_compile_and_this_one_loads_what_they_have_done(monkeypatch, tmp_path):
    """A compiler within this process would hold up the thread that answers, and that heeds a stop."""
    program = f"import os, pathlib; pathlib.Path({str(tmp_path)!r}, str(os.getpid())).touch()"
    done_before = []
    monkeypatch.setattr(compiling, "noted", lambda _: False)
    monkeypatch.setattr(compilers_module, "COMPILE", (sys.executable, "-c", program))
    monkeypatch.setattr(readiness_module, "warm", lambda _: done_before.extend(tmp_path.iterdir()))
    Readiness().warm()
    assert len(done_before) == min(2, os.cpu_count())


def test_how_long_it_is_to_wait_follows_from_what_is_left_and_from_how_slow_the_machine_was(monkeypatch):
    now, noted, started = [100.0], set(), compilers_module.PARTS
    monkeypatch.setattr(compilers_module.time, "monotonic", lambda: now[0])
    monkeypatch.setattr(compiling, "noted", noted.__contains__)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    light, whole = (sum(started[name].seconds for name in names) / 2 for names in (LIGHT, started))
    beside = compilers_module.Compilers()
    assert beside.seconds_left(LIGHT) == pytest.approx(1.0 + light, abs=1.0)
    now[0] += 1.0 + light - 0.5
    assert beside.seconds_left(LIGHT) == pytest.approx(0.2 * light, abs=1.0)  # it is never told to be nothing
    now[0] += 1.5 + light  # all took twice as long
    noted.update(LIGHT)
    beside._processes.append(StillAtWork())
    assert beside.wait_for_light()
    assert beside.seconds_left(started) == pytest.approx(min(30.0, 2.0 * (whole - light)), abs=2.0)
    now[0] += 1000.0
    assert beside.seconds_left(started) == 30


class StillAtWork:
    def poll(self):
        return None


def test_what_compiles_ends_with_the_process_that_waits_for_it(tmp_path):
    program = "from airbough_service.api.compilers import Compilers\nwith Compilers() as beside: beside.wait()"
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path)}
    with subprocess.Popen([sys.executable, "-c", program], env=environment) as waits:
        until = time.monotonic() + 120
        while not list(tmp_path.glob("kernel-*/*.lock")):
            assert time.monotonic() < until
            time.sleep(0.05)
        compilers = family(waits.pid)[1:]
        waits.kill()
    assert compilers
    while not all(map(has_ended, compilers)):
        assert time.monotonic() < until
        time.sleep(0.05)


WARM = """
import json, sys
from airbough_service.api.readiness import Readiness

Readiness().warm()
opened = []
sys.addaudithook(lambda event, given: opened.append(str(given[0])) if event == "open" else None)
import msgspec
from numba.core import event as numba_event

compiled = []

class Listener(numba_event.Listener):
    def on_start(self, event):
        compiled.append(event.data["dispatcher"].py_func.__qualname__)
    def on_end(self, event):
        pass

numba_event.register("numba:compile", Listener())
from airbough.calls import CALLS
from airbough_service.api.document import examples
from airbough_service.combined import registry

asked = []
for call in CALLS:
    if call.method == "GET":
        request = examples.request(call.name)
        words = {name: request.pop(name) for name in call.path_words}
        registry.answer(call.name, msgspec.convert(request, call.request), **words)
        asked.append(call.name)
print(json.dumps({"asked": asked, "opened": [name for name in opened if name.endswith(".toml")], "compiled": compiled}))
"""


def test_ready_means_that_the_tables_are_read_and_the_loops_compiled():
    """In a process of its own, what the event loop answers by itself opens no table and compiles nothing any more."""
    have_all_compiled()
    done = subprocess.run([sys.executable, "-c", WARM], capture_output=True, text=True, timeout=300, check=True)
    found = json.loads(done.stdout.splitlines()[-1])
    assert found == {"asked": [call.name for call in CALLS if call.method == "GET"], "opened": [], "compiled": []}


def test_what_could_not_be_warmed_is_not_ready(monkeypatch):
    def fail(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(registry, "answer", fail)
    readiness = Readiness()
    with pytest.raises(ZeroDivisionError):
        readiness.warm()
    assert not readiness.ready


def test_what_happens_is_counted_by_route_and_never_by_the_callers_words(client):
    client.get("/v1/fittings/some-secret-word?units=us")
    client.get("/nowhere/some-secret-word")
    client.request("SOMESECRETWORD", "/v1/air")
    text = client.get("/metrics").text
    assert 'airbough_request_seconds_count{method="GET",route="/v1/fittings/{type}"' in text
    assert 'route="unrouted",status="404"' in text
    assert 'method="other"' in text
    assert 'airbough_refusals_total{kind="not-found"}' in text
    assert "some-secret-word" not in text.lower()


def test_the_log_is_one_json_line_a_request_without_the_callers_data(client, capsys):
    handler = logging.getLogger("airbough").handlers[0]
    lines = []
    handler.emit = lambda record: lines.append(handler.format(record))
    try:
        client.get("/v1/fittings/some-secret-word?units=us", headers={"x-request-id": "seen"})
    finally:
        del handler.emit
    (line,) = lines
    said = json.loads(line)
    assert said["request_id"] == "seen"
    assert (said["method"], said["route"], said["status"]) == ("GET", "/v1/fittings/{type}", 422)
    assert "some-secret-word" not in line


class Broken(Exception):
    pass


@pytest.mark.parametrize(("error", "kind"), [
    (Broken("some secret"), "internal"),
    (NotFiniteError("runs[0].velocity: nan"), "not-finite"),
    (RecursionError(), "internal"),
    (MemoryError(), "internal"),
])  # fmt: skip
def test_a_fault_of_the_service_is_a_problem_without_a_trace(client, monkeypatch, error, kind):
    def fail(*_, **__):
        raise error

    monkeypatch.setattr(registry, "answer", fail)
    answer = client.get(AIR)
    assert answer.status_code == 500
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["type"] == f"/problems/{kind}"
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text


def test_a_fault_is_logged_with_its_place_and_not_with_its_words(client, monkeypatch):
    def fail(*_, **__):
        raise Broken("some secret")

    monkeypatch.setattr(registry, "answer", fail)
    handler = logging.getLogger("airbough").handlers[0]
    lines = []
    handler.emit = lambda record: lines.append(handler.format(record))
    try:
        client.get(AIR)
    finally:
        del handler.emit
    said = next(line for line in map(json.loads, lines) if line["logger"] == logs.FAULTS.name)
    assert said["type"] == "Broken"
    assert any("fail" in place for place in said["at"])
    assert not any("secret" in line for line in lines)


def test_a_type_of_problem_that_does_not_exist_has_no_page(client):
    assert client.get("/problems/nothing").status_code == 404


def test_a_body_that_is_cut_off_is_told_and_is_no_fault_of_the_service(client):
    messages = iter([{"type": "http.request", "body": b"{", "more_body": True}, {"type": "http.disconnect"}])
    scope = {
        "type": "http", "method": "POST", "path": "/v1/trees/balance", "raw_path": b"/v1/trees/balance",
        "query_string": b"", "headers": [(b"content-type", b"application/json"), (b"host", b"x")],
        "client": ("127.0.0.1", 1), "server": ("x", 80), "scheme": "http", "http_version": "1.1", "root_path": "",
        "extensions": {},
    }  # fmt: skip
    sent = []

    async def receive():
        return next(messages)

    async def send(message):
        sent.append(message)

    handler = logging.getLogger("airbough").handlers[0]
    lines = []
    handler.emit = lambda record: lines.append(json.loads(handler.format(record)))
    try:
        asyncio.run(client.app(scope, receive, send))
    finally:
        del handler.emit
    assert [line["logger"] for line in lines] == [logs.REQUESTS.name]
    assert (lines[0]["status"], lines[0]["kind"]) == (400, "incomplete-body")


def test_a_served_process_looks_for_circles_seldom_and_not_in_what_it_keeps():
    """A look at everything stopped all threads for 100 ms beside a heavy question; figures: tests/bench/crowd.py."""
    asked = (
        "import gc; from airbough_service.api.readiness import Readiness; before = gc.get_threshold(); "
        "Readiness().warm_first(); print(gc.get_threshold()[0] > before[0], gc.get_freeze_count() > 10_000)"
    )
    have_all_compiled()
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout == "True True\n"
