"""Each problem becomes its exception: by `type` first, by status second."""

from __future__ import annotations

import inspect
import pickle
from datetime import UTC, datetime

import msgspec
import pytest

from airbough import errors
from airbough.raw_reply import Raw
from airbough.wire.problem import (
    Fault,
    Problem,
)
from airbough_service.api.problems import PROBLEMS

FAULTS = (Fault(path="runs[3].into", code="dangling", detail="names no run"), Fault(path="runs", code="x", detail="y"))


def problem(kind: str, status: int) -> Problem:
    return Problem(type=f"/problems/{kind}", title="A title", status=status, detail="a detail", errors=FAULTS)


def reply(status: int, body: object, **headers: str) -> Raw:
    return Raw(status, headers, msgspec.json.encode(body))


@pytest.mark.parametrize(
    ("kind", "status", "expected"),
    [
        ("not-json", 400, errors.InvalidRequest),
        ("against-schema", 400, errors.InvalidRequest),
        ("out-of-range", 400, errors.OutOfRange),
        ("key-needed", 401, errors.AccessRefused),
        ("not-found", 404, errors.NotFound),
        ("method-not-allowed", 405, errors.Refused),
        ("too-slow", 408, errors.Refused),
        ("too-large", 413, errors.TooLarge),
        ("over-limit", 413, errors.TooLarge),
        ("unsupported-media-type", 415, errors.UnsupportedMediaType),
        ("not-a-duct-tree", 422, errors.NotADuctTree),
        ("unknown-word", 422, errors.UnknownWord),
        ("not-computable", 422, errors.NotComputable),
        ("too-many-requests", 429, errors.RateLimited),
        ("internal", 500, errors.ServerFailed),
        ("not-finite", 500, errors.ServerFailed),
        ("busy", 503, errors.Busy),
        ("took-too-long", 503, errors.ServerFailed),
        ("a-kind-of-tomorrow", 400, errors.InvalidRequest),
        ("a-kind-of-tomorrow", 422, errors.Refused),
        ("a-kind-of-tomorrow", 418, errors.Refused),
        ("a-kind-of-tomorrow", 504, errors.ServerFailed),
    ],
)
def test_class_by_type_then_status(kind, status, expected):
    error = errors.from_reply(reply(status, problem(kind, status)))
    assert type(error) is expected
    assert error.kind == kind
    assert error.status == status
    assert error.faults == FAULTS


@pytest.mark.parametrize("kind", PROBLEMS)
def test_each_kind_of_the_service_has_the_class_of_its_status(kind):
    status = PROBLEMS[kind].status
    error = errors.from_reply(reply(status, problem(kind, status)))
    assert isinstance(error, errors.ServerFailed if status >= 500 else errors.Refused)


def test_the_type_may_be_a_whole_address():
    body = msgspec.structs.replace(problem("x", 422), type="https://air.example/problems/not-a-duct-tree")
    assert type(errors.from_reply(reply(422, body))) is errors.NotADuctTree


def test_text_has_each_path_on_a_line_of_its_own():
    text = str(errors.from_problem(problem("not-a-duct-tree", 422)))
    assert text.splitlines() == ["422 A title", "  runs[3].into: names no run", "  runs: y"]


@pytest.mark.parametrize(
    ("status", "expected"),
    [(413, errors.TooLarge), (502, errors.ServerFailed), (503, errors.Busy), (404, errors.NotFound)],
)
def test_a_proxys_page_is_told_by_its_status(status, expected):
    error = errors.from_reply(Raw(status, {"content-type": "text/html"}, b"<h1>Bad\nday</h1>\xff"))
    assert type(error) is expected
    assert error.kind == "about:blank"
    assert "<h1>Bad day</h1>" in str(error)


@pytest.mark.parametrize("status", [204, 301, 304])
def test_a_status_between_answer_and_problem_is_not_understood(status):
    assert type(errors.from_reply(Raw(status))) is errors.NotUnderstood


def all_errors() -> list[errors.AirboughError]:
    raw = Raw(429, {"x-request-id": "abc", "retry-after": "7"}, b"{}")
    made: list[errors.AirboughError] = []
    for kind in vars(errors).values():
        if inspect.isclass(kind) and issubclass(kind, errors.AirboughError) and not kind.__name__.startswith("_"):
            explained = issubclass(kind, errors._Explained)
            made.append(kind(problem("busy", 429) if explained else "a message", raw))
    return [*made, errors.CutStream("cut", raw, ("a", "b"))]


@pytest.mark.parametrize("error", all_errors(), ids=lambda error: type(error).__name__)
def test_every_error_survives_a_pickle(error):
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert again.raw == error.raw
    assert again.request_id == "abc"
    assert again.retry_after == 7.0
    assert again.__dict__ == error.__dict__


def test_text_without_faults_is_the_detail():
    plain = Problem(type="/problems/busy", title="Busy", status=503, detail="come back later")
    assert str(errors.from_problem(plain)) == "503 Busy: come back later"


def test_the_drawn_tree_is_the_tree():
    names = [line.split("──")[-1].split()[0] for line in errors.__doc__.splitlines() if "──" in line]
    real = {error.__name__ for error in map(type, all_errors())} - {"AirboughError"}
    assert set(names) == real


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("120", 120.0),
        ("0", 0.0),
        ("Fri, 31 Dec 1999 23:59:59 GMT", 14.0),  # RFC 9110 section 10.2.3 gives both forms
        ("Fri, 31 Dec 1999 23:00:00 GMT", 0.0),
        ("soon", None),
        ("-3", None),
        ("1e3", None),
        ("", None),
    ],
)
def test_retry_after_is_seconds_or_a_date(header, expected):
    now = datetime(1999, 12, 31, 23, 59, 45, tzinfo=UTC)
    assert Raw(503, {"retry-after": header}).retry_after(now) == expected
