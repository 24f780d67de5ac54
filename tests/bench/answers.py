"""What a whole answer costs beside decoding its request and encoding it: python tests/bench/answers.py

Operating point and balance of 500 unlike shops of sixteen runs with all findings, in this process through
`airbough.local()`, whose answer is not written and read again, and once more to the bytes that a server sends. Each
shop is asked by turns with msgspec's decoding of the request and encoding of the answer, and the least processor time
of several turns counts, so that other work on the machine counts little. Also the steps of an answer, how many calls of
functions it makes, which no other work changes, and the scan for keys that stand twice, by kinds of requests.
"""

from __future__ import annotations

import argparse
import datetime
import platform
import sys
import time
from collections.abc import Callable
from typing import Any

import msgspec
import sixteen_runs

import airbough
from airbough.calls import CALLS
from airbough_service.api.document import examples
from airbough_service.api.http.body import refuse_duplicate_keys
from airbough_service.combined import registry
from airbough_service.judging.state_findings import point_findings
from airbough_service.shop import collector as fans
from airbough_service.shop.shop import build
from airbough_service.solving.solved_state import solve
from airbough_service.terms import units

BY_NAME = {call.name: call for call in CALLS}
ASKED = {"operating-point": {}, "balance": {"by": "gates"}}


def least(turns: int, *works: Callable[[], object]) -> list[float]:
    """Return the least time of each piece of work, us, taken by turns."""
    out = [float("inf")] * len(works)
    for _ in range(turns):
        for place, work in enumerate(works):
            begun = time.thread_time()
            work()
            out[place] = min(out[place], time.thread_time() - begun)
    return [1.0e6 * spent for spent in out]


def calls(work: Callable[[], object]) -> int:
    """Return how many functions a piece of work calls, compiled ones of Python's own included."""
    count = 0

    def note(_frame: object, event: str, _what: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(None)
    return count


def beside_msgspec(question: str, shops: int, turns: int) -> None:
    """Print what an answer to a question costs beside msgspec's share of it."""
    call, client = BY_NAME[question], airbough.local()
    ask = getattr(client, question.replace("-", "_"))
    spent, made = [0.0] * 5, 0
    for seed in range(shops):
        body = msgspec.json.encode(sixteen_runs.shop(seed) | ASKED[question])
        request = msgspec.json.decode(body, type=call.request)
        answer = registry.answer(question, request)

        def decode(body: bytes = body) -> object:
            return msgspec.json.decode(body, type=call.request)

        works: tuple[Callable[[], Any], ...] = (
            decode,
            lambda answer=answer: msgspec.json.encode(answer),
            lambda body=body: refuse_duplicate_keys(body),
            lambda request=request: ask(request),
            lambda request=request: ask.reply(request).content,
        )
        spent = [sum(pair) for pair in zip(spent, least(turns, *works), strict=True)]
        made += calls(works[3]) if seed < 20 else 0
    decoding, encoding, keys, whole, written = (one / shops for one in spent)
    print(
        f"{question}: decode {decoding:.1f} us, encode {encoding:.1f} us, keys {keys:.1f} us "
        f"({keys / decoding:.2f} of decode); local() {whole:.0f} us, {whole / (decoding + encoding):.1f} times both, "
        f"{made / min(shops, 20):.0f} calls; to the answer's bytes {written:.0f} us, "
        f"{written / (decoding + encoding):.1f} times"
    )


def keys_by_kind(turns: int) -> None:
    """Print what the scan for keys that stand twice costs beside decoding, for requests of several sizes and kinds."""
    trees = {
        f"tree of {2 * machines} runs": ("operating-point", sixteen_runs.shop(1, machines)) for machines in (4, 8, 20)
    }
    others = {name: (name, examples.request(name)) for name in ("outline", "layout", "sizing", "gate-states", "air")}
    works: list[Callable[[], object]] = []
    bodies = {
        kind: (BY_NAME[name].request, msgspec.json.encode(asked)) for kind, (name, asked) in (trees | others).items()
    }
    for request, body in bodies.values():
        works.append(lambda request=request, body=body: msgspec.json.decode(body, type=request))
        works.append(lambda body=body: refuse_duplicate_keys(body))
    spent = least(turns, *works)
    for (kind, (_, body)), decoding, keys in zip(bodies.items(), spent[::2], spent[1::2], strict=True):
        print(
            f"  {kind:16} {len(body):6} bytes: decode {decoding:5.1f} us, keys {keys:4.1f} us ({keys / decoding:.2f})"
        )


def steps(shops: int, turns: int) -> None:
    """Print what each step of an operating point costs, and the calls of it."""
    call = BY_NAME["operating-point"]
    spent: dict[str, list[float]] = {}
    for seed in range(shops):
        request = msgspec.convert(sixteen_runs.shop(seed), call.request)
        in_si = units.to_si(request)
        shop = build(in_si)
        fan = fans.build(shop)
        solved = solve(shop, fan)
        answer = call_in_si(in_si)
        works: dict[str, Callable[[], object]] = {
            "into SI": lambda request=request: units.to_si(request),
            "shop": lambda in_si=in_si: build(in_si),
            "fan": lambda shop=shop: fans.build(shop),
            "solving and telling": lambda shop=shop, fan=fan: solve(shop, fan),
            "findings": lambda solved=solved: point_findings(solved),
            "out of SI": lambda answer=answer: units.told(answer, "us"),
        }
        times = least(turns, *works.values())
        for (name, work), one in zip(works.items(), times, strict=True):
            own = spent.setdefault(name, [0.0, 0.0])
            own[0] += one / shops
            own[1] += calls(work) / shops
    for name, (one, made) in spent.items():
        print(f"  {name:20} {one:7.1f} us {made:6.0f} calls")


def call_in_si(in_si: Any) -> Any:
    """Return the answer to an operating point in SI."""
    from airbough_service.questions import operating_point

    return operating_point.answer(in_si)


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--shops", type=int, default=500)
    arguments.add_argument("--turns", type=int, default=7)
    given = arguments.parse_args()
    print(f"{datetime.date.today()}  {platform.machine()}  one core; means of {given.shops} shops of sixteen runs")
    for question in ASKED:
        beside_msgspec(question, given.shops, given.turns)
    steps(min(given.shops, 50), given.turns)
    keys_by_kind(10 * given.turns)


if __name__ == "__main__":
    main()
