"""Many questions at once: bounded, in order, and none left behind."""

from __future__ import annotations

import asyncio

import httpx
import pytest

import airbough
from airbough.travel.concurrent import each


class Server:
    """Answers each number later the smaller it is, and counts how many are asked at once."""

    def __init__(self, fails: int | None = None, pause: float = 0.001) -> None:
        self.now = self.most = self.taken = self.given_up = 0
        self.fails = fails
        self.pause = pause

    def numbers(self, count):
        for number in range(count):
            self.taken += 1
            yield number

    async def ask(self, number):
        self.now += 1
        self.most = max(self.most, self.now)
        try:
            if number == self.fails:
                await asyncio.sleep(0)
                raise airbough.Unreachable("x")
            await asyncio.sleep(self.pause * (5 - number % 5))
            return number
        except asyncio.CancelledError:
            self.given_up += 1
            raise
        finally:
            self.now -= 1


@pytest.mark.parametrize("at_once", [1, 3, 50])
def test_answers_come_in_order_with_a_bounded_number_under_way(at_once):
    server = Server()

    async def main():
        return [number async for number in each(server.ask, server.numbers(20), at_once=at_once)]

    assert asyncio.run(main()) == list(range(20))
    assert server.most == min(at_once, 20)


def test_requests_are_taken_only_as_their_turn_comes():
    server = Server()

    async def main():
        answers = each(server.ask, server.numbers(1000), at_once=3)
        first = [await anext(answers) for _ in range(4)]
        taken = server.taken
        await answers.aclose()
        return first, taken

    assert asyncio.run(main()) == ([0, 1, 2, 3], 7)
    assert server.now == 0


@pytest.mark.parametrize(("fails", "before", "given_up"), [(0, [], 2), (2, [0, 1], 0)])  # those not begun never begin
def test_the_first_failure_is_raised_in_its_place_and_the_rest_given_up(fails, before, given_up):
    server, told = Server(fails=fails, pause=0.1), []

    async def main():
        async for number in each(server.ask, server.numbers(20), at_once=3):
            told.append(number)

    with pytest.raises(airbough.Unreachable):
        asyncio.run(main())
    assert told == before
    assert server.given_up == given_up
    assert server.now == 0


def test_none_at_once_is_nonsense():
    async def main():
        return [number async for number in each(Server().ask, [1], at_once=0)]

    with pytest.raises(ValueError, match="at_once"):
        asyncio.run(main())


def test_with_a_client(air_answer):
    asked = []

    def handle(request):
        asked.append(dict(request.url.params))
        return httpx.Response(200, content=air_answer)

    async def main():
        async with httpx.AsyncClient(transport=httpx.MockTransport(handle)) as http:
            client = airbough.AsyncClient("http://air.example", http_client=http)
            requests = [{"units": "us", "temperature": degrees} for degrees in (50, 60, 70)]
            return [answer async for answer in each(client.air, requests, at_once=2)]

    assert [type(answer) for answer in asyncio.run(main())] == [airbough.AirAnswer] * 3
    assert [query["temperature"] for query in asked] == ["50", "60", "70"]
