import json
import re
import threading

import pytest
from litestar.testing import TestClient

from airbough_service.api.admission import keys as keys_module
from airbough_service.api.admission.guard import check_protection
from airbough_service.api.admission.keys import (
    Keys,
    digest,
)
from airbough_service.api.admission.rates import Rates
from airbough_service.api.app import create_app
from airbough_service.api.document import examples
from airbough_service.api.settings import (
    SettingError,
    Settings,
)

AIR = "/v1/air?units=us"


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "keys"
    path.write_text(f"# callers\nsheet {digest('first-key')}\n\nshop {digest('other-key')}\n")
    return path


@pytest.fixture
def guarded(file, monkeypatch):
    monkeypatch.setattr(keys_module, "_LOOK_SECONDS", 0.0)
    with TestClient(create_app(Settings(keys_file=str(file)))) as client:
        yield client


def bearer(key):
    return {"authorization": f"Bearer {key}"}


@pytest.mark.parametrize("headers", [
    {}, bearer("wrong-key"), bearer(""), bearer("first-key2"), {"authorization": "first-key"},
    {"authorization": "Basic first-key"}, {"x-api-key": "first-key"}, bearer(digest("first-key")),
])  # fmt: skip
def test_without_a_key_of_the_file_nothing_is_answered(guarded, headers):
    for answer in (guarded.get(AIR, headers=headers), guarded.get("/metrics", headers=headers),
                   guarded.post("/v1/trees/balance", json={}, headers=headers),
                   guarded.post("/v1/batches", content=b"", headers=headers)):  # fmt: skip
        assert answer.status_code == 401
        assert answer.headers["www-authenticate"].startswith("Bearer")
        assert answer.json()["type"] == "/problems/key-needed"


def test_with_a_key_questions_are_answered_and_kept_from_shared_caches(guarded):
    answer = guarded.get(AIR, headers=bearer("first-key"))
    assert answer.status_code == 200
    assert answer.headers["cache-control"].startswith("private")
    assert guarded.get("/metrics", headers=bearer("other-key")).status_code == 200


@pytest.mark.parametrize("path", ["/health/live", "/health/ready", "/docs", "/openapi.json", "/problems/key-needed"])
def test_what_a_caller_needs_to_know_beforehand_needs_no_key(guarded, path):
    assert guarded.get(path).status_code == 200


def test_keys_come_and_go_without_a_restart(guarded, file):
    assert guarded.get(AIR, headers=bearer("new-key")).status_code == 401
    file.write_text(f"sheet {digest('first-key')}\nsheet {digest('new-key')}\n")
    assert guarded.get(AIR, headers=bearer("new-key")).status_code == 200
    assert guarded.get(AIR, headers=bearer("other-key")).status_code == 401
    file.write_text("not a line of keys\n")
    assert guarded.get(AIR, headers=bearer("new-key")).status_code == 200
    file.unlink()
    assert guarded.get(AIR, headers=bearer("new-key")).status_code == 200


def test_a_file_that_cannot_be_read_stops_the_start(tmp_path):
    with pytest.raises(SettingError, match="nowhere"):
        Keys(tmp_path / "nowhere")
    (tmp_path / "bad").write_text("sheet secret\n")
    with pytest.raises(SettingError, match="line 1"):
        Keys(tmp_path / "bad")


def test_a_key_made_by_the_command_is_known_once_its_line_is_in_the_file(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr("sys.argv", ["keys", "shop-7"])
    keys_module.main()
    said = capsys.readouterr().out
    key, line = re.fullmatch(r"key, for the caller: (\S+)\nline, for the file: (.+)\n", said).groups()
    assert key not in line
    (tmp_path / "keys").write_text(line)
    assert Keys(tmp_path / "keys").of(key).name == "shop-7"


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.5", "shop.example"])
def test_an_address_that_others_reach_needs_keys_or_a_word(host, file):
    with pytest.raises(SettingError, match="AIRBOUGH_PUBLIC_UNPROTECTED"):
        check_protection(Settings(host=host))
    check_protection(Settings(host=host, keys_file=str(file)))
    check_protection(Settings(host=host, public_unprotected=True))


@pytest.mark.parametrize("host", ["127.0.0.1", "127.9.9.9", "::1", "localhost"])
def test_an_address_of_this_machine_alone_needs_none(host):
    check_protection(Settings(host=host))


def test_a_burst_passes_and_then_the_rate_holds():
    now = [0.0]
    rates = Rates(Settings(rate=2.0, burst=5), clock=lambda: now[0])
    standings = [rates.take("a") for _ in range(6)]
    assert [standing.allowed for standing in standings] == [True] * 5 + [False]
    assert standings[0].headers == {"RateLimit-Policy": '"default";q=5;w=3', "RateLimit": '"default";r=4;t=1'}
    assert standings[5].headers["RateLimit"] == '"default";r=0;t=3'
    assert standings[5].headers["Retry-After"] == "1"
    assert rates.take("b").allowed
    now[0] = 0.5
    assert rates.take("a").allowed
    assert not rates.take("a").allowed
    now[0] = 100.0
    assert [rates.take("a").allowed for _ in range(6)] == [True] * 5 + [False]


def test_a_flood_of_callers_does_not_fill_the_memory():
    now = [0.0]
    rates = Rates(Settings(rate=1.0, burst=2), clock=lambda: now[0])
    for index in range(25_000):
        now[0] += 1e-5
        rates.take(str(index))
    assert len(rates._buckets) <= 10_000


def test_over_the_rate_the_caller_is_told_when_to_come_back():
    with TestClient(create_app(Settings(rate=0.001, burst=2))) as limited:
        first = limited.get(AIR)
        assert first.headers["ratelimit"].startswith('"default";r=1;t=')
        assert limited.get(AIR).status_code == 200
        answer = limited.get(AIR)
        assert answer.status_code == 429
        assert answer.json()["type"] == "/problems/too-many-requests"
        assert int(answer.headers["retry-after"]) > 0
        assert answer.headers["ratelimit"].startswith('"default";r=0;t=')
        assert limited.get("/health/live").status_code == 200


def test_who_floods_without_a_valid_key_is_limited_by_address_and_takes_nothing_from_those_with_one(file):
    with TestClient(create_app(Settings(rate=0.001, burst=4, keys_file=str(file)))) as limited:
        asked = [(AIR, {}), (AIR, bearer("guessed")), ("/docs", {}), ("/openapi.json", {}), (AIR, {}), ("/docs", {})]
        told = [limited.get(path, headers=headers).status_code for path, headers in asked]
        assert told == [401, 401, 200, 200, 429, 429]
        assert limited.get(AIR, headers=bearer("first-key")).status_code == 200


def test_each_key_has_a_bucket_of_its_own(file):
    with TestClient(create_app(Settings(rate=0.001, burst=1, keys_file=str(file)))) as limited:
        assert limited.get(AIR, headers=bearer("first-key")).status_code == 200
        assert limited.get(AIR, headers=bearer("first-key")).status_code == 429
        assert limited.get(AIR, headers=bearer("other-key")).status_code == 200


def test_only_named_pages_may_read_answers():
    with TestClient(create_app(Settings(allowed_origins="https://shop.example, https://b.example"))) as client:
        for path in (AIR, "/v1/air", "/nowhere"):
            answer = client.get(path, headers={"origin": "https://shop.example"})
            assert answer.headers["access-control-allow-origin"] == "https://shop.example"
            assert "Retry-After" in answer.headers["access-control-expose-headers"]
            assert "access-control-allow-origin" not in client.get(path, headers={"origin": "https://evil"}).headers
        for headers in ({}, {"origin": "https://shop.example"}, {"origin": "https://evil"}):
            said = client.get(AIR, headers=headers).headers.get_list("vary", split_commas=True)
            assert sorted(said) == ["Accept", "Origin"]
        asked = {"origin": "https://shop.example", "access-control-request-method": "POST",
                 "access-control-request-headers": "content-type"}  # fmt: skip
        answer = client.options("/v1/trees/balance", headers=asked)
        assert answer.status_code == 204
        assert "POST" in answer.headers["access-control-allow-methods"]


@pytest.mark.parametrize("header", ["authorization", "if-none-match", "traceparent", "tracestate", "x-request-id"])
def test_a_page_may_send_what_the_service_reads(header):
    with TestClient(create_app(Settings(allowed_origins="https://shop.example"))) as client:
        asked = {"origin": "https://shop.example", "access-control-request-method": "GET"}
        answer = client.options(AIR, headers=asked | {"access-control-request-headers": header})
        assert answer.status_code == 204
        assert header in answer.headers["access-control-allow-headers"].lower()


def test_without_a_list_no_page_may(client):
    answer = client.get(AIR, headers={"origin": "https://shop.example"})
    assert not [name for name in answer.headers if name.startswith("access-control")]


def test_limits_of_this_server_are_told_with_their_paths():
    run = {"id": "a", "into": None, "diameter": 6, "length": 10}
    with TestClient(create_app(Settings(runs_limit=2, samples_limit=20))) as small:
        body = {"units": "us", "runs": [run] * 3, "uncertainty": {"samples": 21}}
        answer = small.post("/v1/trees/balance", json=body)
        assert answer.status_code == 413
        assert [fault["path"] for fault in answer.json()["errors"]] == ["runs", "uncertainty.samples"]


def test_every_tree_of_a_question_is_counted():
    asked = examples.request("compare")
    most = max(len(asked[name]["runs"]) for name in ("before", "after"))
    asked["before"]["uncertainty"] = {"samples": 21}
    batch = json.dumps({"id": "a", "question": "compare", "request": asked})
    with TestClient(create_app(Settings(runs_limit=1, samples_limit=20))) as small:
        answer = small.post("/v1/trees/compare", json=asked)
        line = small.post("/v1/batches", content=batch, headers={"content-type": "application/x-ndjson"})
    paths = ["before.runs", "before.uncertainty.samples", "after.runs"]
    assert answer.status_code == 413
    assert [fault["path"] for fault in answer.json()["errors"]] == paths
    assert [fault["path"] for fault in json.loads(line.text.splitlines()[0])["problem"]["errors"]] == paths
    with TestClient(create_app(Settings(runs_limit=most))) as enough:
        assert enough.post("/v1/trees/compare", json=examples.request("compare")).status_code == 200


def test_the_states_that_a_number_of_machines_makes_are_counted_before_they_are_solved():
    asked = examples.request("gate-states") | {"machines": [f"m{index}" for index in range(2000)], "up_to": 2000}
    with TestClient(create_app(Settings(states_limit=1000))) as small:
        answer = small.post("/v1/trees/gate-states", json=asked)
    assert answer.status_code == 413
    assert answer.json()["errors"][0]["path"] == "states"


def test_the_states_of_all_machines_are_counted_where_none_is_named():
    """Ten gates of one machine each, up to four at once: 10 + 45 + 120 + 210 sets, by hand."""
    pipe = {"diameter": 4, "length": 3, "duct": "spiral-galvanized"}
    runs = [{"id": "trunk-0", "into": None, **pipe}]
    for number in range(10):
        hood = {"flow": 100, "entry": {"type": "plain-opening"}}
        join = {"type": "branch", "angle": "45 deg"}  # counted before quantities are read
        runs.append(
            {"id": f"m{number}", "into": f"trunk-{number}", "join": join, "hood": hood, "gate": {"opening": 1}, **pipe}
        )
        if number < 9:
            further = {"id": f"trunk-{number + 1}", "into": f"trunk-{number}", "join": {"type": "straight"}, **pipe}
            runs.append(further)
    end = {"id": "end", "into": "trunk-9", "join": {"type": "straight"}, "hood": runs[-1]["hood"], **pipe}
    curve = [{"flow": 0, "pressure": 10}, {"flow": 2000, "pressure": 2}]
    collector = {"fan": {"curve": curve, "rated_as": "fan-static"}}
    asked = {"units": "us", "dust": "sawdust", "runs": [*runs, end], "collector": collector, "up_to": 4}
    for most, status in ((300, 413), (600, 200)):
        with TestClient(create_app(Settings(states_limit=most))) as limited:
            answer = limited.post("/v1/trees/gate-states", json=asked)
        assert answer.status_code == status, answer.text
        if status == 413:
            assert [fault["path"] for fault in answer.json()["errors"]] == ["states"]
            assert "385 states" in answer.text


def test_a_question_that_takes_too_long_is_given_up(monkeypatch):
    from airbough_service.combined import registry

    told = threading.Event()
    with TestClient(create_app(Settings(compute_timeout=0.05))) as hasty:
        monkeypatch.setattr(registry, "answer", lambda *_, **__: told.wait(60))
        body = {"units": "us", "runs": [{"id": "a", "into": None, "diameter": 6, "length": 10}], "explain": True}
        answer = hasty.post("/v1/trees/balance", json=body)
        told.set()
        assert answer.status_code == 503
        assert answer.json()["type"] == "/problems/took-too-long"
        assert int(answer.headers["retry-after"]) > 0
