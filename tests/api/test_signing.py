"""Signatures are checked with another library than the one that makes them."""

import hashlib
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from litestar.testing import TestClient

from airbough_service.api import examples, signing
from airbough_service.api.app import create_app
from airbough_service.api.settings import SettingError, Settings


def decoded(text):
    return urlsafe_b64decode(text + "=" * (-len(text) % 4))


def encoded(data):
    return urlsafe_b64encode(data).rstrip(b"=").decode()


@pytest.fixture(scope="module")
def signed(tmp_path_factory):
    path = tmp_path_factory.mktemp("keys") / "private.json"
    with pytest.MonkeyPatch.context() as patch:
        written = []
        patch.setattr("sys.stdout.write", written.append)
        signing.main()
    path.write_text(written[0])
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


@pytest.mark.parametrize("text", ["", "{}", '{"kty": "OKP"}', '{"kty":"OKP","crv":"Ed25519","x":"AAAA"}', "[]"])
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
