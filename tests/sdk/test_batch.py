"""Batches: never a line lost in silence."""

from __future__ import annotations

import asyncio
import pickle
import threading

import httpx
import msgspec
import pytest

import airbough
from airbough.calls import BALANCE
from airbough.raw_reply import Raw
from airbough.travel import batch

TOO_LARGE = {"type": "/problems/too-large", "title": "t", "status": 413, "detail": "d"}
PROBLEM = {"type": "/problems/not-a-duct-tree", "title": "t", "status": 422, "detail": "d"}
ANSWER = b'{"id":"0","status":200,"answer":{"name":"x"}}\n'


class _Small(msgspec.Struct, frozen=True):
    """Stands for an answer: a batch's machinery looks at no field of it."""

    name: str


@pytest.fixture(autouse=True)
def _small_answers(monkeypatch):
    call = batch.Call(BALANCE.name, BALANCE.method, BALANCE.path, BALANCE.request, _Small)
    monkeypatch.setitem(batch.QUESTIONS, "balance", call)


def lines_of(shop, count):
    for number in range(count):
        yield str(number), "balance", {**shop, "name": f"shop {number}"}


class Server:
    """Answers batches; `cut` says after how many answers each reply breaks off."""

    def __init__(self, *cuts: int | None, drop_counts: bool = False, answer: str = "x") -> None:
        self.cuts = list(cuts)
        self.asked: list[list[str]] = []
        self.drop_counts = drop_counts
        self.answer = answer

    def __call__(self, request: httpx.Request) -> httpx.Response:
        assert request.headers["content-type"] == "application/x-ndjson"
        asked = [msgspec.json.decode(line) for line in request.content.splitlines()]
        self.asked.append([line["id"] for line in asked])
        told, refused = [], 0
        for line in asked:
            assert line["question"] == "balance"
            if line["request"]["name"].endswith("3"):
                told.append({"id": line["id"], "status": 422, "problem": PROBLEM})
                refused += 1
            else:
                told.append({"id": line["id"], "status": 200, "answer": {"name": self.answer + line["id"]}})
        counts = {"lines": len(told), "answered": len(told) - refused, "refused": refused}
        cut = self.cuts.pop(0) if self.cuts else None
        sent = told if cut is not None or self.drop_counts else [*told, counts]
        return httpx.Response(200, content=b"".join(msgspec.json.encode(line) + b"\n" for line in sent[:cut]))


def run(server, make_lines, **options):
    """Send a batch with each client, each with a server of its own; return (results, error) of each."""
    outcomes = []
    results: list[batch.Result] = []
    with httpx.Client(transport=httpx.MockTransport(server())) as http:
        client = airbough.Client("http://air.example", http_client=http)
        client._sleep = lambda _: None
        try:
            results.extend(client.batch(make_lines(), **options))
            outcomes.append((results, None))
        except airbough.AirboughError as error:
            outcomes.append((results, error))

    async def main():
        results = []
        async with httpx.AsyncClient(transport=httpx.MockTransport(server())) as http:
            client = airbough.AsyncClient("http://air.example", http_client=http)
            client._sleep = lambda _: asyncio.sleep(0)
            try:
                async for result in client.batch(make_lines(), **options):
                    results.append(result)
            except airbough.AirboughError as error:
                return results, error
        return results, None

    return [*outcomes, asyncio.run(main())]


def test_each_line_has_its_result(shop):
    told = []
    for results, error in run(Server, lambda: lines_of(shop, 7), lines_at_once=3, progress=told.append):
        assert error is None
        assert [result.id for result in results] == ["0", "1", "2", "3", "4", "5", "6"]
        assert [result.status for result in results] == [200, 200, 200, 422, 200, 200, 200]
        assert results[2].get().name == "x2"
        with pytest.raises(airbough.NotADuctTree):
            results[3].get()
    assert told[2] == batch.Progress(sent=3, answered=3, refused=0)
    assert told[6] == told[13] == batch.Progress(sent=7, answered=6, refused=1)


def test_several_chunks_under_way_are_told_in_order(shop):
    """The first chunk is answered last."""
    under_way, first_may_go = threading.Barrier(3), threading.Event()

    class Slow(Server):
        def __call__(self, request):
            if under_way.n_waiting < 3 and not under_way.broken:
                under_way.wait(timeout=30)  # all three are asked before any is answered
            if b'"0"' in request.content:
                assert first_may_go.wait(30)
            else:
                first_may_go.set()
            return super().__call__(request)

    with httpx.Client(transport=httpx.MockTransport(Slow())) as http:
        client = airbough.Client("http://air.example", http_client=http)
        results = list(client.batch(lines_of(shop, 9), lines_at_once=3, at_once=3))
    assert [result.id for result in results] == list("012345678")


@pytest.mark.parametrize("at_once", [2, 3, 20])
def test_chunks_under_way_lose_no_line(shop, at_once):
    given = {"lines_at_once": 2, "at_once": at_once}
    for results, error in run(lambda: Server(2, 1, None), lambda: lines_of(shop, 11), **given):
        assert error is None
        assert [result.id for result in results] == [str(number) for number in range(11)]


def test_what_is_missing_of_chunks_under_way_is_named(shop):
    def refusing():
        return lambda request: httpx.Response(413, json=TOO_LARGE) if b'"4"' in request.content else Server()(request)

    given = {"lines_at_once": 2, "at_once": 3}
    for results, error in run(refusing, lambda: list(lines_of(shop, 12)), **given):
        assert [result.id for result in results] == ["0", "1", "2", "3"]
        assert error.missing == tuple(str(number) for number in range(4, 12))


def test_lines_are_taken_only_a_few_chunks_ahead(shop):
    taken = []

    def lines():
        for line in lines_of(shop, 100):
            taken.append(line)
            yield line

    with httpx.Client(transport=httpx.MockTransport(Server())) as http:
        results = airbough.Client("http://air.example", http_client=http).batch(lines(), lines_at_once=5, at_once=2)
        next(results)
        assert len(taken) == 15  # of the first chunk all came, two are under way
        results.close()


def test_none_at_once_is_refused(shop):
    for client in (airbough.Client("http://air.example"), airbough.local()):
        with pytest.raises(ValueError, match="at_once"):
            next(client.batch(lines_of(shop, 1), at_once=0))


def test_lines_are_taken_only_as_they_are_sent(shop):
    taken = []

    def lines():
        for line in lines_of(shop, 100):
            taken.append(line)
            yield line

    with httpx.Client(transport=httpx.MockTransport(Server())) as http:
        results = airbough.Client("http://air.example", http_client=http).batch(lines(), lines_at_once=5)
        next(results)
        assert len(taken) == 5
        results.close()


def test_a_cut_stream_is_taken_up_where_it_broke(shop):
    servers = []

    def server():
        servers.append(Server(2, 1, None))
        return servers[-1]

    for results, error in run(server, lambda: lines_of(shop, 6)):
        assert error is None
        assert [result.id for result in results] == ["0", "1", "2", "3", "4", "5"]
    for made in servers:
        assert made.asked == [["0", "1", "2", "3", "4", "5"], ["2", "3", "4", "5"], ["3", "4", "5"]]


def test_a_stream_that_stays_cut_names_what_is_missing(shop):
    for results, error in run(lambda: Server(2, *[0] * 20), lambda: lines_of(shop, 4)):
        assert [result.id for result in results] == ["0", "1"]
        assert type(error) is airbough.CutStream
        assert error.missing == ("2", "3")
        assert pickle.loads(pickle.dumps(error)).missing == ("2", "3")


def test_missing_counts_alone_lose_no_line(shop):
    for results, error in run(lambda: Server(drop_counts=True), lambda: lines_of(shop, 3)):
        assert error is None
        assert len(results) == 3


def test_a_text_may_hold_characters_that_end_a_line_elsewhere(shop):
    # U+2028, U+0085 and U+000C end a line for str.splitlines, not for NDJSON.
    odd = "\u2028\u0085\u000c"
    for results, error in run(lambda: Server(answer=odd), lambda: lines_of(shop, 2)):
        assert error is None
        assert [result.answer.name for result in results] == [odd + "0", odd + "1"]


def test_pieces_may_break_anywhere(shop):
    body = b'{"id":"0","status":200,"answer":{"name":"\xc3\xa9"}}\n\n{"lines":1,"answered":1,"refused":0}\n'
    for size in (1, 2, 7, len(body)):
        chunk = next(iter(batch.Feed(lines_of(shop, 1))))
        reader = batch.Reader(chunk, Raw(200))
        pieces = [body[start : start + size] for start in range(0, len(body), size)]
        results = [result for piece in pieces for result in reader.feed(piece)]
        reader.close()
        assert [result.answer.name for result in results] == ["é"]


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        (b'{"id":"9","status":200,"answer":{"name":"x"}}\n', airbough.NotUnderstood),
        (b'{"id":"0","answer":{"name":"x"}}\n', airbough.NotUnderstood),
        (b'{"id":"0","status":200}\n', airbough.NotUnderstood),
        (b'{"id":"0","status":200,"answer":{}}\n', airbough.NotUnderstood),
        (b'{"status":200,"answer":{"name":"x"}}\n', airbough.NotUnderstood),
        (b"<html>\n", airbough.NotUnderstood),
        (b'{"lines":0,"answered":0,"refused":0}\n', airbough.CutStream),
        (
            b'{"id":"0","status":200,"answer":{"name":"x"}}\n{"lines":2,"answered":2,"refused":0}\n',
            airbough.NotUnderstood,
        ),
        (b'{"id":"0","status":200,"answer":{"name":"x"}', airbough.CutStream),
        (b"", airbough.CutStream),
    ],
)
def test_a_wrong_stream_is_an_error(shop, body, expected):
    chunk = next(iter(batch.Feed(lines_of(shop, 1))))
    reader = batch.Reader(chunk, Raw(200))
    with pytest.raises(expected):
        _ = [*reader.feed(body), reader.close()]


def test_a_line_whose_id_the_server_could_not_read_is_told_by_its_number(shop):
    chunk = next(iter(batch.Feed(lines_of(shop, 2))))
    reader = batch.Reader(chunk, Raw(200))
    line = {"id": None, "line": 2, "status": 413, "problem": TOO_LARGE}
    (result,) = reader.feed(msgspec.json.encode(line) + b"\n")
    assert result.id == "1"
    assert type(result.error) is airbough.TooLarge
    with pytest.raises(airbough.NotUnderstood):
        list(reader.feed(msgspec.json.encode({**line, "line": 3}) + b"\n"))


def test_a_refused_batch_is_refused(shop):
    def refusing():
        return lambda _: httpx.Response(413, json=TOO_LARGE)

    for results, error in run(refusing, lambda: lines_of(shop, 2)):
        assert results == []
        assert type(error) is airbough.TooLarge


@pytest.mark.parametrize("kind", [list, iter])
def test_missing_names_each_line_without_a_result(shop, kind):
    """A line that cannot be sent waits for its turn; of a list, what was never taken is missing too."""
    lines = list(lines_of(shop, 9))
    lines[3] = ("3", "balance", {**shop, "name": object()})
    rest = ("6", "7", "8") if kind is list else ()
    for results, error in run(lambda: Server(None, *[0] * 20), lambda: kind(lines), lines_at_once=2):
        assert [result.id for result in results] == ["0", "1"]
        assert error.missing == ("2", "3", *(("4", "5", *rest) if kind is list else ()))
    for results, error in run(lambda: Server(None, 1, *[0] * 20), lambda: kind(lines), lines_at_once=3):
        assert [result.id for result in results] == ["0", "1", "2", "3", "4"]
        assert error.missing == ("5", *rest)


def test_missing_is_told_whatever_ends_the_batch(shop):
    def refusing():
        server = Server(None)
        return lambda request: server(request) if not server.asked else httpx.Response(401, json={})

    for results, error in run(refusing, lambda: list(lines_of(shop, 6)), lines_at_once=2):
        assert [result.id for result in results] == ["0", "1"]
        assert type(error) is airbough.AccessRefused
        assert error.missing == ("2", "3", "4", "5")


def test_what_cannot_be_sent_is_told_in_its_place(shop):
    lines = [("a", "balance", {"units": object()}), ("b", "balance", shop), ("c", "balance", {"runs": object()})]
    (chunk,) = batch.Feed(lines)
    assert [entry.id for entry in chunk.waiting.values()] == ["b"]
    assert chunk.missing == ("a", "b", "c")
    told = list(chunk.refused_before(1))
    assert [(result.id, type(result.error)) for result in told] == [("a", airbough.InvalidRequest)]
    assert chunk.missing == ("b", "c")
    assert [result.id for result in chunk.refused_before(None)] == ["c"]
    assert list(chunk.refused_before(None)) == []
