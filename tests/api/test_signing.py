"""Signatures are checked with another library than the one that makes them."""

import hashlib
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from litestar.testing import TestClient

from airbough_service.api import signing
from airbough_service.api.app import create_app
from airbough_service.api.document import examples
from airbough_service.api.settings import (
    SettingError,
    Settings,
)


def decoded(text):
    return urlsafe_b64decode(text + "=" * (-len(text) % 4))


def encoded(data):
    return urlsafe_b64encode(data).rstrip(b"=").decode()


def printed(*arguments):
    with pytest.MonkeyPatch.context() as patch:
        written = []
        patch.setattr("sys.stdout.write", written.append)
        signing.main(arguments)
    return "".join(written)


@pytest.fixture(scope="module")
def signed(tmp_path_factory):
    path = tmp_path_factory.mktemp("keys") / "private.json"
    path.write_text(printed())
    with TestClient(create_app(Settings(signing_key_file=str(path)))) as client:
        yield client


def check(client, path, question, answer, signature):
    """As a caller would, from the document's words alone."""
    protected, middle, made = signature.split(".")
    assert middle == ""
    (key,) = client.get("/.well-known/jwks.json").json()["keys"]
    assert "d" not in key
    header = json.loads(decoded(protected))
    assert header == {"alg": "Ed25519", "kid": key["kid"]}
    digests = encoded(hashlib.sha256(answer).digest()), encoded(hashlib.sha256(question).digest())
    said = f'{{"answer":"{digests[0]}","path":"{path}","request":"{digests[1]}"}}'
    public = Ed25519PublicKey.from_public_bytes(decoded(key["x"]))
    public.verify(decoded(made), f"{protected}.{encoded(said.encode())}".encode())


def test_an_answer_is_signed_together_with_its_question(signed):
    body = json.dumps(examples.request("balance")).encode()
    answer = signed.post("/v1/trees/balance", content=body, headers={"content-type": "application/json"})
    signature = answer.headers["airbough-signature"]
    check(signed, "/v1/trees/balance", body, answer.content, signature)
    with pytest.raises(InvalidSignature):
        check(signed, "/v1/trees/balance", body + b" ", answer.content, signature)
    with pytest.raises(InvalidSignature):
        check(signed, "/v1/trees/balance", body, answer.content.replace(b"1", b"2", 1), signature)
    with pytest.raises(InvalidSignature):
        check(signed, "/v1/trees/operating-point", body, answer.content, signature)


def test_a_get_is_signed_over_its_query(signed):
    query = "units=us&temperature=70%20degF&value=air.density"
    answer = signed.get(f"/v1/air?{query}")
    check(signed, "/v1/air", query.encode(), answer.content, answer.headers["airbough-signature"])


def test_a_refusal_is_not_signed(signed):
    assert "airbough-signature" not in signed.get("/v1/air").headers


def test_without_a_key_nothing_is_signed_and_no_key_is_published(client):
    assert "airbough-signature" not in client.get("/v1/air?units=us").headers
    assert client.get("/.well-known/jwks.json").status_code == 404


def test_a_line_of_a_batch_is_signed_as_its_question_alone_would_be(signed):
    request = json.dumps(examples.request("balance"), indent=1).replace("\n", " ").encode()
    body = b'{"id": "a", "request": ' + request + b', "question": "balance"}\n{"id": "b", "question": "balance"}\n'
    told = signed.post("/v1/batches", content=body, headers={"content-type": "application/x-ndjson"})
    answered, refused, _ = told.content.splitlines()
    line = json.loads(answered)
    answer = answered.partition(b'"answer":')[2].rpartition(b',"signature":')[0]
    assert json.loads(answer) == line["answer"]
    check(signed, "/v1/trees/balance", request, answer, line["signature"])
    with pytest.raises(InvalidSignature):
        check(signed, "/v1/trees/balance", request + b" ", answer, line["signature"])
    assert "signature" not in json.loads(refused)


def test_a_new_key_takes_over_while_the_old_one_stays_published(tmp_path):
    old, new = json.loads(printed()), json.loads(printed())
    (tmp_path / "both.json").write_text(json.dumps({"keys": [new, {name: old[name] for name in ("kty", "crv", "x")}]}))
    with TestClient(create_app(Settings(signing_key_file=str(tmp_path / "both.json")))) as client:
        published = client.get("/.well-known/jwks.json").json()["keys"]
        signature = client.get("/v1/air?units=us").headers["airbough-signature"]
    assert [key["x"] for key in published] == [new["x"], old["x"]]
    assert not any("d" in key for key in published)
    assert json.loads(decoded(signature.partition(".")[0]))["kid"] == published[0]["kid"]


def test_the_command_prints_the_keys_that_the_service_publishes(tmp_path):
    (tmp_path / "key.json").write_text(printed())
    told = json.loads(printed("--public", str(tmp_path / "key.json")))
    with TestClient(create_app(Settings(signing_key_file=str(tmp_path / "key.json")))) as client:
        assert client.get("/.well-known/jwks.json").json() == told
    (tmp_path / "key.json").write_text(json.dumps(told))
    with pytest.raises(SystemExit, match="no private"):
        printed("--public", str(tmp_path / "key.json"))


@pytest.mark.parametrize("text", [
    "", "{}", "[]", '{"keys": []}', '{"keys": 3}', '{"kty": "OKP"}', '{"kty":"OKP","crv":"Ed25519","x":"AAAA"}',
])  # fmt: skip
def test_a_file_without_a_private_key_stops_the_start(tmp_path, text):
    path = tmp_path / "key.json"
    path.write_text(text)
    with pytest.raises(SettingError, match=r"key\.json"):
        signing.Signer(path)


def test_a_public_key_is_no_private_key(tmp_path, signed):
    (key,) = signed.get("/.well-known/jwks.json").json()["keys"]
    (tmp_path / "key.json").write_text(json.dumps(key))
    with pytest.raises(SettingError):
        signing.Signer(tmp_path / "key.json")
