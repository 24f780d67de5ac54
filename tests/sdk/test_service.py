"""The clients against the service itself: over its application in this process, and without any server."""

from __future__ import annotations

import asyncio
import subprocess
import sys

import httpx
import msgspec
import pytest
from litestar.testing import TestClient

import airbough
from airbough.calls import CALLS
from airbough.travel.exchange import path_names
from airbough_service.api.app import create_app
from airbough_service.api.document import examples
from airbough_service.api.settings import Settings

AIR = {"units": "us", "temperature": 95, "altitude": "1500 m", "humidity": "40 %"}
FRICTION = {"units": "metric", "flow": 900, "diameter": 152.4, "length": 7.3, "duct": "spiral-galvanized"}
CHECK = {"units": "us", "flow": 350, "diameter": 4, "dust": "shavings"}
LISTS = ("fittings", "ducts", "dusts", "hoods", "sources")


@pytest.fixture(scope="module")
def app():
    return create_app(Settings())


@pytest.fixture(scope="module")
def http(app):
    with TestClient(app) as client:
        yield client


@pytest.fixture(scope="module")
def served(http):
    return airbough.Client(http_client=http)


@pytest.fixture(scope="module")
def local():
    return airbough.local()


@pytest.fixture(scope="module")
def awaited(app, http):
    """Ask asynchronously, over the application that `http` has started."""

    def ask(question):
        async def main():
            transport = httpx.ASGITransport(app)
            async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as asynchronous:
                return await question(airbough.AsyncClient(http_client=asynchronous))

        return asyncio.run(main())

    return ask


def questions(shop):
    return {
        "air": lambda client: client.air.reply(**AIR),
        "friction-loss": lambda client: client.friction_loss.reply(FRICTION),
        "velocity-check": lambda client: client.velocity_check.reply(**CHECK),
        "fitting": lambda client: client.fitting.reply("elbow", units="us"),
        "fitting-loss": lambda client: client.fitting_loss.reply(
            "elbow", units="us", angle=90, radius_ratio=1.5, flow="700 cfm", diameter=6
        ),
        "balance": lambda client: client.balance.reply(shop),
        "operating-point": lambda client: client.operating_point.reply(shop),
        **{name: _list(name) for name in LISTS},
    }


def _list(name):
    return lambda client: getattr(client, name).reply(units="metric")


@pytest.mark.parametrize("name", questions({}))
def test_the_answer_is_the_same_to_the_bit_however_it_is_asked(name, served, local, awaited, shop):
    ask = questions(shop)[name]
    reply = ask(served)
    assert reply.request_id
    assert ask(local).content == reply.content
    assert awaited(ask).content == reply.content
    call = next(call for call in CALLS if call.name == name)
    assert type(reply.answer()) is call.answer
    assert msgspec.json.decode(msgspec.json.encode(reply.answer()), type=call.answer) == reply.answer()


EXAMPLES = {call.name: example for call in CALLS if (example := examples.request(call.name)) is not None}


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_example_of_the_service_answers_the_same_however_it_is_asked(name, served, local, awaited):
    call = next(call for call in CALLS if call.name == name)
    document = dict(EXAMPLES[name])
    words = [document.pop(word) for word in path_names(call.path)]

    def ask(client):
        return getattr(client, name.replace("-", "_")).reply(*words, document)

    reply = ask(served)
    assert type(reply.answer()) is call.answer
    assert ask(local).content == reply.content
    assert awaited(ask).content == reply.content


def refusals(shop):
    runs = shop["runs"]
    cycle = {**shop, "runs": [{**runs[0], "into": "saw"}, *runs[1:]]}
    return {
        "out of range": (lambda client: client.air(units="us", temperature=5000), airbough.OutOfRange),
        "no unit": (lambda client: client.air(units="us", temperature="6 parsec"), airbough.InvalidRequest),
        "no preset": (lambda client: client.air(units="imperial"), airbough.InvalidRequest),
        "no word": (lambda client: client.fitting("no-such-fitting", units="us"), airbough.UnknownWord),
        "no duct": (
            lambda client: client.friction_loss({**FRICTION, "duct": "spiral-galvanised"}),
            airbough.UnknownWord,
        ),
        "cycle": (lambda client: client.balance(cycle), airbough.NotADuctTree),
        "wide": (lambda client: client.balance({**shop, "runs": [{**runs[0], "diameter": 900}]}), airbough.OutOfRange),
    }


@pytest.mark.parametrize("name", ["out of range", "no unit", "no preset", "no word", "no duct", "cycle", "wide"])
def test_the_refusal_is_the_same_however_it_is_asked(name, served, local, awaited, shop):
    ask, expected = refusals(shop)[name]
    told = []
    for way in (lambda: ask(served), lambda: ask(local), lambda: awaited(ask)):
        with pytest.raises(expected) as caught:
            way()
        assert type(caught.value) is expected
        told.append((str(caught.value), caught.value.faults, caught.value.status))
    assert told[0] == told[1] == told[2]
    assert told[0][1], "a refusal names its paths"


@pytest.mark.parametrize(
    ("text", "fine"),
    [
        ("1,400 cfm", False),
        ("400,5 cfm", True),
        ("400.0 CFM", True),
        ("400", False),
        ("4e2", False),
        ("1,400", False),
        ("½ m³/s", True),
        ("400 scfm", False),
        (" 400 cfm", False),
        ("0,125 m3/s", True),
        (400, True),
        (float("nan"), False),
    ],
)
@pytest.mark.parametrize("as_struct", [True, False])
def test_a_text_is_read_the_same_way_by_query_and_in_process(served, local, text, fine, as_struct):
    document = {"units": "us", "flow": text, "diameter": 6, "length": "7 ft 6 in", "duct": "spiral-galvanized"}
    asked = airbough.FrictionLossRequest(**document) if as_struct else document
    told = []
    for client in (served, local):
        try:
            told.append(client.friction_loss.reply(asked).content)
        except airbough.InvalidRequest as error:
            told.append((error.problem.type, error.problem.title, error.problem.detail, error.faults))
    assert told[0] == told[1]
    assert isinstance(told[0], bytes) == fine


def test_a_batch_answers_as_its_questions_would(served, local, shop):
    narrow = {**shop, "runs": [{**shop["runs"][0], "diameter": 900}]}
    lines = [("a", "balance", shop), ("b", "operating-point", shop), ("c", "balance", narrow)]
    told = list(served.batch(lines))
    assert [result.id for result in told] == ["a", "b", "c"]
    assert told[0].get() == served.balance(shop)
    assert told[1].get() == served.operating_point(shop)
    assert type(told[2].error) is airbough.OutOfRange
    assert [(result.id, result.status, result.answer) for result in local.batch(lines)] == [
        (result.id, result.status, result.answer) for result in told
    ]


def test_a_batch_longer_than_a_chunk(served, shop):
    lines = ((str(number), "balance", shop) for number in range(25))
    told = list(served.batch(lines, lines_at_once=10))
    assert [result.id for result in told] == [str(number) for number in range(25)]
    assert {result.status for result in told} == {200}


def test_an_answer_with_units_agrees_with_the_other_preset(local):
    us = airbough.with_units(local.air(units="us", temperature="20 degC", altitude="500 m"))
    metric = airbough.with_units(local.air(units="metric", temperature="20 degC", altitude="500 m"))
    told = us.air.density.to("kg/m^3").magnitude
    assert told == pytest.approx(metric.air.density.magnitude, rel=1e-12)


def test_the_local_client_starts_no_web_framework():
    code = (
        "import sys, airbough\nairbough.local().air(units='us')\n"
        "print([name for name in ('litestar', 'granian') if name in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120)
    assert told.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("missing", "told"), [("airbough_service", "pip install airbough-service"), ("numba", "numba")]
)
def test_without_the_service_local_says_what_to_install(monkeypatch, missing, told):
    def import_module(_):
        raise ModuleNotFoundError(f"No module named {missing!r}", name=missing)

    monkeypatch.setattr("importlib.import_module", import_module)
    with pytest.raises(ImportError, match=told):
        airbough.local()
