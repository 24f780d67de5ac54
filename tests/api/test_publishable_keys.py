"""Keys that may stand in a page: for its origins, for some questions, each address with a rate of its own."""

import asyncio

import httpx
import pytest
from litestar.testing import TestClient

from airbough_service.api.admission import keys as keys_module
from airbough_service.api.admission.keys import Keys, digest
from airbough_service.api.app import create_app
from airbough_service.api.document import examples
from airbough_service.api.settings import SettingError, Settings
from airbough_service.api.settings_check import check

PAGE, OTHER = "https://seller.example", "https://other.example"
AIR, HOODS = "/v1/air?units=us", "/v1/hoods?units=us"


def keys(tmp_path, words=f"origins={PAGE} questions=quote,hoods rate=0.001 burst=3"):
    path = tmp_path / "keys"
    path.write_text(f"page {digest('open-key')} {words}\nserver {digest('closed-key')}\n")
    return str(path)


@pytest.fixture
def client(tmp_path):
    settings = Settings(keys_file=keys(tmp_path), allowed_origins=f"{PAGE},{OTHER}", rate=0.001, burst=5)
    with TestClient(create_app(settings)) as service:
        yield service


def sent(key="open-key", origin=PAGE):
    return {"authorization": f"Bearer {key}"} | ({} if origin is None else {"origin": origin})


def test_a_page_of_its_origin_asks_what_the_key_names(client):
    answer = client.post("/v1/quotes", json=examples.request("quote"), headers=sent())
    assert answer.status_code == 200
    assert answer.headers["access-control-allow-origin"] == PAGE
    assert client.get(HOODS, headers=sent()).status_code == 200


@pytest.mark.parametrize("origin", [OTHER, None, "https://seller.example:8443", "http://seller.example", "null"])
def test_a_page_of_another_origin_is_refused(client, origin):
    answer = client.get(HOODS, headers=sent(origin=origin))
    assert answer.status_code == 403
    assert answer.json()["type"] == "/problems/key-not-for-this"


@pytest.mark.parametrize("path", [AIR, "/metrics"])
def test_other_questions_are_refused(client, path):
    assert client.get(path, headers=sent()).status_code == 403
    assert client.get(path, headers=sent("closed-key", None)).status_code == 200


def test_batches_are_not_opened_by_a_key_for_pages(client):
    headers = sent() | {"content-type": "application/x-ndjson"}
    assert client.post("/v1/batches", content=b"{}", headers=headers).status_code == 403


def test_its_rate_is_its_own_and_the_secret_keys_is_not_touched(client):
    told = [client.get(HOODS, headers=sent()) for _ in range(4)]
    assert [answer.status_code for answer in told] == [200, 200, 200, 429]
    assert told[0].headers["ratelimit-policy"].startswith('"default";q=3')
    assert "retry-after" in told[3].headers
    assert client.get(HOODS, headers=sent("closed-key", None)).status_code == 200


def test_each_address_has_the_rate_for_itself(tmp_path):
    app = create_app(Settings(keys_file=keys(tmp_path), allowed_origins=PAGE))

    async def ask(address):
        transport = httpx.ASGITransport(app=app, client=(address, 5000))
        async with httpx.AsyncClient(transport=transport, base_url="http://service") as http:
            return (await http.get(HOODS, headers=sent())).status_code

    async def asked():
        async with app.lifespan():
            return [await ask(address) for address in (*["198.51.100.1"] * 4, "198.51.100.2")]

    assert asyncio.run(asked()) == [200, 200, 200, 429, 200]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("origins=https://seller.example/ questions=quote", "write `https://seller.example`"),
        ("origins=seller.example questions=quote", "write `https://seller.example`"),
        ("origins=https://*.seller.example questions=quote", "bound to whole origins"),
        (f"origins={PAGE} questions=quotes", "did you mean `quote`"),
        (f"origins={PAGE}", "names its questions"),
        ("questions=quote", "names its origins"),
        (f"origins={PAGE} questions=quote rate=0", "`rate` is above 0"),
        (f"origins={PAGE} questions=quote rate=many", "are numbers"),
        (f"origins={PAGE} questions=quote colour=red", "no such word: colour"),
    ],
)
def test_a_line_that_is_wrong_stops_the_start_with_what_is_right(tmp_path, words, told):
    with pytest.raises(SettingError, match="line 1") as caught:
        Keys(tmp_path / "keys") if keys(tmp_path, words) else None
    assert told in str(caught.value)


def test_an_origin_of_a_key_that_may_not_read_answers_stops_the_start(tmp_path):
    with pytest.raises(SettingError, match=f"ALLOWED_ORIGINS: add `{PAGE}`"):
        check(Settings(keys_file=keys(tmp_path)))
    check(Settings(keys_file=keys(tmp_path), allowed_origins=PAGE))


def test_the_command_makes_a_key_for_a_page(capsys, monkeypatch, tmp_path):
    words = [f"origins={PAGE}", "questions=quote"]
    monkeypatch.setattr("sys.argv", ["keys", "page", *words])
    keys_module.main()
    key, line = (text.split(": ", 1)[1] for text in capsys.readouterr().out.splitlines())
    (tmp_path / "keys").write_text(line)
    found = Keys(tmp_path / "keys").of(key)
    assert (found.page.origins, found.page.questions) == ({PAGE}, {"quote"})
    monkeypatch.setattr("sys.argv", ["keys", "page", "origins=seller.example", "questions=quote"])
    with pytest.raises(SystemExit, match=r"write `https://seller\.example`"):
        keys_module.main()
