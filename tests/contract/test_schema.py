"""Requests generated from the document itself, every operation, every check of the generator."""

import json
import re

import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import load_all_checks
from schemathesis.python import asgi
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from airbough.wire.quantity import SPELLINGS
from airbough_service.api.app import create_app
from airbough_service.api.document import build
from airbough_service.api.settings import Settings

load_all_checks()


@schemathesis.serializer("application/x-ndjson")
def as_lines(ctx, value):
    lines = value if isinstance(value, list) else [value]
    return {"data": b"".join(json.dumps(line).encode() + b"\n" for line in lines)}


@schemathesis.deserializer("application/x-ndjson")
def from_lines(ctx, response):
    """Each line is JSON and the last one counts them; the document has them as a list."""
    lines = [json.loads(line) for line in response.content.splitlines()]
    counts = lines[-1]
    assert counts["lines"] == len(lines) - 1 == counts["answered"] + counts["refused"]
    return lines


PATIENCE = 120.0
"""Seconds for one request, and for the service to answer it: this machine may be busy with much else."""

APPLICATION = create_app(Settings(body_limit=40_000_000, compute_timeout=PATIENCE))  # the schema bounds runs, not bytes


def tightened(node):
    """Give each quantity's text a pattern of its own kind: the published one is looser than grammar and units."""
    if isinstance(node, list):
        return [tightened(item) for item in node]
    if not isinstance(node, dict):
        return node
    done = {key: tightened(item) for key, item in node.items()}
    kind = done.get("x-kind")
    if kind and "anyOf" in done:
        done["anyOf"] = [
            part | {"pattern": PATTERNS[kind]} if part.get("type") == "string" else part for part in done["anyOf"]
        ]
    return done


NUMBER = r"-?[0-9]{1,9}(\.[0-9]{1,15}|,[0-9]{1,2}| (1/2|3/4|7/8|15/16))?"
PATTERNS = {kind: rf"^{NUMBER} ?({'|'.join(re.escape(unit) for unit in units)})$" for kind, units in SPELLINGS.items()}
DOCUMENT = tightened(build.build())
# A line that is no question is answered in its place; the questions themselves are generated on their own paths.
DOCUMENT["components"]["schemas"]["BatchLine"]["properties"]["request"] = {"type": "object"}
SEEN_ELSEWHERE = "^/v1/trees/(?!balance$)"
"""Other questions about trees than the balance: nearly all their boundary cases are its own, and are left out."""


def schema(boundary_cases):
    made = schemathesis.openapi.from_dict(DOCUMENT)
    made.app = APPLICATION
    made.config.phases.coverage.enabled = boundary_cases
    return made


def accepts_what_the_schema_allows(ctx, response, case):
    """A valid request is answered, is no duct tree (422), or is out of range in its own preset and says so.

    The last is the one thing JSON Schema cannot say: a bare number's bounds depend on `units`, and a text's on its
    unit, so the document bounds bare numbers by the looser preset and a 400 may tell nothing but `out-of-range`. Nor
    can it say that `value` contradicts a `format` other than text, nor what the headings of a table are. Its pattern of
    a quantity is loose: a comma before three digits may fit it and is refused as ambiguous.
    """
    if case.media_type == "text/csv":
        return
    if case.meta is None or not case.meta.generation.mode.is_positive or response.status_code in (200, 304, 422):
        return
    told = json.loads(response.content)
    if response.status_code == 404:  # a page or a key there may not be is no request of the model's
        assert not case.path.startswith("/v1/"), told
        return
    assert response.status_code == 400, told
    codes = {fault["code"] for fault in told["errors"]}
    assert codes
    assert codes <= {"out-of-range", "contradiction", "ambiguous-decimal"}, told


def refuses_in_a_cell(ctx, response, case):
    """With `errors=cell` a refusal is a 200 whose text says so: the generator takes it for an acceptance."""
    if in_cell(case) and case.method == "GET" and case.meta is not None and case.meta.generation.mode.is_negative:
        assert response.status_code >= 400 or response.content.startswith(b"#ERR "), response.content


def answers_all(case):
    """Anything is a batch: a line that is no question is answered in its place."""
    return in_cell(case) or case.path == "/v1/batches"


def in_cell(case):
    return (case.query or {}).get("errors") == "cell"


@pytest.fixture(scope="module")
def session():
    with asgi.get_client(APPLICATION) as opened:
        yield opened


EXAMPLES = settings(
    max_examples=30, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
)


@schema(boundary_cases=True).exclude(path_regex=SEEN_ELSEWHERE).parametrize()
@EXAMPLES
def test_the_service_keeps_to_its_document(case, session):
    check(case, session)


@schema(boundary_cases=False).include(path_regex=SEEN_ELSEWHERE).parametrize()
@EXAMPLES
def test_the_other_questions_about_trees_keep_to_it_too(case, session):
    check(case, session)


def check(case, session):
    case.call_and_validate(
        session=session,
        timeout=PATIENCE,
        additional_checks=[accepts_what_the_schema_allows, refuses_in_a_cell],
        excluded_checks=[positive_data_acceptance] + [negative_data_rejection] * answers_all(case),
    )
