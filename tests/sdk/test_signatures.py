"""Signed answers: from a service that signs to a caller who checks, and everything that may go wrong between them."""

from __future__ import annotations

import asyncio
import json
import subprocess
import sys
from base64 import urlsafe_b64decode, urlsafe_b64encode

import httpx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from joserfc.jwk import OKPKey
from litestar.testing import TestClient

import airbough
from airbough import (
    calls,
    signatures,
)
from airbough.signatures import (
    HEADER,
    PublicKeys,
)
from airbough_service.api.app import create_app
from airbough_service.api.settings import Settings

PATH = "/v1/trees/balance"


def written(folder, name):
    """Write a new private key to a file and return it."""
    key = OKPKey.generate_key("Ed25519")
    (folder / name).write_text(json.dumps(key.as_dict(private=True)))
    return key


def public(*keys):
    return {"keys": [key.as_dict(private=False) for key in keys]}


@pytest.fixture(scope="module")
def key(tmp_path_factory):
    folder = tmp_path_factory.mktemp("keys")
    made = written(folder, "key.json")
    made.file = str(folder / "key.json")
    return made


@pytest.fixture(scope="module")
def app(key):
    return create_app(Settings(signing_key_file=key.file))


@pytest.fixture(scope="module")
def http(app):
    with TestClient(app) as client:
        yield client


@pytest.fixture(scope="module")
def keys(http):
    return http.get("/.well-known/jwks.json").json()


@pytest.fixture
def exchanged(http, shop):
    """What a buyer's browser has in hand: question, answer, signature."""
    question = json.dumps(shop).encode()
    told = http.post(PATH, content=question, headers={"content-type": "application/json"})
    return question, told.content, told.headers[HEADER]


def altering(change):
    """Return an HTTP client of a signing service whose replies are changed on their way."""

    def make(http):
        def handle(request):
            told = http.request(request.method, str(request.url.copy_with(scheme="http", host="testserver.local")),
                                content=request.content, headers=request.headers)  # fmt: skip
            headers = {name: text for name, text in told.headers.items() if name in ("content-type", HEADER)}
            content, headers = change(told.content, headers)
            return httpx.Response(told.status_code, content=content, headers=headers)

        return httpx.Client(transport=httpx.MockTransport(handle), base_url="http://air.example")

    return make


def test_a_client_that_checks_is_answered(http, app, keys, shop):
    client = airbough.Client(http_client=http, verify_with=keys)
    assert client.balance(shop).runs
    assert client.air(units="us", temperature="70 degF", humidity=0.4).air
    assert client.fitting("elbow", units="us").fitting

    async def main():
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://air.example") as asynchronous:
            return await airbough.AsyncClient(http_client=asynchronous, verify_with=keys).balance(shop)

    assert asyncio.run(main()) == client.balance(shop)


def test_a_refusal_stays_a_refusal(http, keys):
    with pytest.raises(airbough.OutOfRange):
        airbough.Client(http_client=http, verify_with=keys).air(units="us", temperature=5000)


@pytest.mark.parametrize("change", [
    lambda content, headers: (content.replace(b"1", b"2", 1), headers),
    lambda content, headers: (content + b" ", headers),
    lambda content, headers: (content, {"content-type": headers["content-type"]}),
    lambda content, headers: (content, {**headers, HEADER: ""}),
    lambda content, headers: (content, {**headers, HEADER: headers[HEADER][:-6] + "AAAAAA"}),
    lambda content, headers: (content, {**headers, HEADER: headers[HEADER].replace("..", ".e30.")}),
], ids=["number", "space", "unsigned", "empty", "signature", "not detached"])  # fmt: skip
def test_an_altered_reply_is_refused_and_not_asked_again(http, keys, shop, change):
    asked = []
    with altering(lambda *reply: asked.append(1) or change(*reply))(http) as altered:
        with pytest.raises(airbough.SignatureRefused) as caught:
            airbough.Client(http_client=altered, verify_with=keys).balance(shop)
        assert len(asked) == 1
        assert caught.value.status == 200
        assert airbough.Client(http_client=altered).balance.reply(shop).status == 200  # nobody looks, nobody sees


def test_an_answer_to_another_question_is_refused(http, keys, shop):
    other = http.post(PATH, json={**shop, "name": "another"})

    def swapped(*_):
        return other.content, {"content-type": "application/json", HEADER: other.headers[HEADER]}

    with (
        altering(swapped)(http) as altered,
        pytest.raises(airbough.SignatureRefused, match="does not hold"),
    ):
        airbough.Client(http_client=altered, verify_with=keys).balance(shop)


def test_a_service_that_does_not_sign_is_refused(keys, shop):
    with TestClient(create_app(Settings())) as unsigned:
        client = airbough.Client(http_client=unsigned, verify_with=keys)
        with pytest.raises(airbough.SignatureRefused, match="not signed"):
            client.balance(shop)
        with pytest.raises(airbough.SignatureRefused, match="not signed"):
            list(client.batch([("a", "balance", shop)]))


def test_a_stranger_s_key_is_refused_and_several_keys_may_be_trusted(http, key, exchanged):
    question, answer, signature = exchanged
    strange, newer = OKPKey.generate_key("Ed25519"), OKPKey.generate_key("Ed25519")
    with pytest.raises(airbough.SignatureRefused, match="not among"):
        signatures.verify(answer, signature, public(strange), path=PATH, request=question)
    signatures.verify(answer, signature, public(newer, key), path=PATH, request=question)
    # A stranger's key that claims the id of a trusted one opens nothing.
    forged = {**strange.as_dict(private=False), "kid": key.thumbprint()}
    with pytest.raises(airbough.SignatureRefused, match="does not hold"):
        signatures.verify(answer, signature, forged, path=PATH, request=question)


def test_a_seller_opens_what_a_buyer_hands_over(http, keys, exchanged, shop):
    request, answer = signatures.opened(calls.BALANCE, *exchanged, keys)
    assert [run.id for run in request.runs] == [run["id"] for run in shop["runs"]]
    assert answer == airbough.Client(http_client=http).balance(shop)


def test_what_a_buyer_has_altered_is_refused(keys, exchanged):
    question, answer, signature = exchanged
    for changed in (
        (question.replace(b"400", b"500"), answer, signature),
        (question, answer.replace(b"0", b"1", 1), signature),
        (question, answer, signature[:-4] + "AAAA"),
        (question, answer, None),
        (answer, question, signature),
    ):
        with pytest.raises(airbough.SignatureRefused):
            signatures.opened(calls.BALANCE, *changed, keys)
    with pytest.raises(airbough.SignatureRefused):  # signed for another question of the same body
        signatures.opened(calls.OPERATING_POINT, *exchanged, keys)
    with pytest.raises(ValueError, match="use `verify`"):
        signatures.opened(calls.AIR, *exchanged, keys)


def test_a_reply_that_was_kept_can_be_checked_later(http, keys, shop):
    reply = airbough.Client(http_client=http).balance.reply(shop)
    signatures.verify_reply(reply, keys)
    with pytest.raises(airbough.SignatureRefused):
        signatures.verify_reply(reply, public(OKPKey.generate_key("Ed25519")))


def test_a_weaker_algorithm_is_not_taken(key, keys, exchanged):
    question, answer, signature = exchanged

    def with_header(**header):
        protected = urlsafe_b64encode(json.dumps(header).encode()).rstrip(b"=").decode()
        return protected + signature[signature.index("..") :]

    told = signature.partition(".")[0]
    assert json.loads(urlsafe_b64decode(told + "=" * (-len(told) % 4))) == {"alg": "Ed25519", "kid": key.thumbprint()}
    for header in ({"alg": "none"}, {"alg": "HS256"}, {"alg": "EdDSA"}, {"alg": "Ed25519", "b64": False}, {}):
        named = with_header(**header, kid=key.thumbprint())
        with pytest.raises(airbough.SignatureRefused):
            signatures.verify(answer, named, keys, path=PATH, request=question)
        with pytest.raises(airbough.SignatureRefused):
            signatures.verify(answer, named.rpartition(".")[0] + ".", keys, path=PATH, request=question)


@settings(max_examples=200, deadline=None)
@given(st.one_of(st.text(), st.tuples(st.text(), st.just(".."), st.text()).map("".join), st.binary().map(
    lambda data: urlsafe_b64encode(data).rstrip(b"=").decode() + ".." + urlsafe_b64encode(data).decode())))  # fmt: skip
def test_no_text_in_the_header_gives_another_error(signature):
    trusted = PublicKeys(OKPKey.generate_key("Ed25519").as_dict(private=False))
    with pytest.raises(airbough.SignatureRefused):
        trusted.check(b"{}", signature, path=PATH, question=b"{}")


def test_keys_are_read_from_a_table_a_set_or_a_file(tmp_path, key):
    one = key.as_dict(private=False)
    (tmp_path / "one.json").write_text(json.dumps(one))
    (tmp_path / "set.json").write_text(json.dumps(public(key)))
    for given_keys in (one, public(key), tmp_path / "one.json", str(tmp_path / "set.json")):
        assert repr(signatures.public_keys(given_keys)) == f"PublicKeys(['{key.thumbprint()}'])"
    read = PublicKeys(one)
    assert signatures.public_keys(read) is read


def test_what_is_no_public_key_is_named(tmp_path, key):
    (tmp_path / "text.json").write_text("[")
    one = key.as_dict(private=False)
    for wrong, told in (
        (key.as_dict(private=True), "private"),
        ({}, "key 0 is no Ed25519"),
        ({"keys": []}, "no public key"),
        ({"keys": "x"}, "key 0"),
        ({"keys": [one, {"kty": "OKP", "crv": "X25519", "x": one["x"]}]}, "key 1"),
        ({"keys": [one, one]}, "two keys"),
        ({"kty": "oct", "k": "AAAA"}, "key 0"),
        (tmp_path / "text.json", "text.json is no JWK"),
    ):
        with pytest.raises(ValueError, match=told):
            airbough.Client("http://air.example", verify_with=wrong)
    with pytest.raises(OSError, match=r"nowhere\.json"):
        PublicKeys("nowhere.json")


def test_without_the_extra_the_client_says_what_to_install(monkeypatch, key):
    monkeypatch.setitem(sys.modules, "joserfc", None)
    with pytest.raises(ImportError, match=r"airbough\[signing\]"):
        airbough.Client("http://air.example", verify_with=public(key))


def test_the_library_is_loaded_only_where_signatures_are_checked():
    code = "import sys, airbough, airbough.signatures; print('joserfc' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert told.stdout.strip() == "False"


def test_each_line_of_a_batch_is_checked(http, keys, shop):
    narrow = {**shop, "runs": [{**shop["runs"][0], "diameter": 900}]}
    lines = [("a", "balance", shop), ("b", "operating-point", shop), ("c", "balance", narrow)]
    told = list(airbough.Client(http_client=http, verify_with=keys).batch(lines))
    assert [result.error is None for result in told] == [True, True, False]

    def swap(content, headers):
        first, second, *rest = content.splitlines(keepends=True)
        one, two = json.loads(first), json.loads(second)
        one["signature"], two["signature"] = two["signature"], one["signature"]
        return b"".join([json.dumps(one).encode() + b"\n", json.dumps(two).encode() + b"\n", *rest]), headers

    for change in (swap, lambda content, headers: (content.replace(b'"flow":', b'"flow": ', 1), headers)):
        with altering(change)(http) as altered:
            client = airbough.Client(http_client=altered, verify_with=keys)
            with pytest.raises(airbough.SignatureRefused):
                list(client.batch(lines))
            assert len(list(airbough.Client(http_client=altered).batch(lines))) == 3
