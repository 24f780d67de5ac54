"""Hostile bodies: the examples, bent in every way that a careless or malicious caller could think of.

The same seed makes the same bodies. What must hold of each answer is in `check`.
"""

import copy
import dataclasses
import json
import math
import random
import time

from airbough.calls import CALLS
from airbough_service.api import problems
from airbough_service.api.document import examples
from airbough_service.api.http import (
    negotiation,
    respond,
)
from airbough_service.api.settings import Settings
from airbough_service.core import deadline

POSTS = [call for call in CALLS if call.method == "POST"]
OF_THE_WHOLE = {
    "empty-body", "malformed-json", "not-utf-8", "nested-too-deep", "duplicate-key", "wrong-type", "unknown-field",
}  # fmt: skip
"""Faults that need no path: of the whole document, or of a field whose name is empty."""

SMALL = 20_000
"""Bytes below which a body may not take long; above, an honest document may need what the limit of time allows."""

SECONDS = 1.0
"""Of the processor, for a small body."""

BUSY = 20.0
"""Times its limit of time that an answer may take on a busy machine; of the processor it may take the limit."""

BURDENS = {
    "uncertainty": [{"samples": 400}, {"samples": 10_000}, {"samples": 50, "seed": 2**53}],
    "explain": [True],
    "resolved": [True],
    "by": ["flow", "gates"],
    "correction": ["exact"],
    "up_to": [2, 3, 20],
    "listed": [50_000],
    "detail": ["runs"],
    "flows": ["fan"],
    "frontier_limit": [10, 20_000],
    "objective": ["fan-pressure"],
    "trade_sizes": [list(range(3, 20))],
    "rules": [
        {"meeting_without_gates": "must"}, {"meeting_without_gates": "prefer", "design_flow": "prefer"},
        {"transport_velocity": "must", "no_narrowing": "must", "upper_velocity": "must", "design_flow": "must"},
    ],
    "limits": [{"meeting_tolerance": 0.0, "pressure_available": 0.5}, {"meeting_tolerance": 1.0}],
    "fans": [20], "states": [1, 20, 300],  # how many, made from the document
    "starts_allowed": [1],
    "rest": [600],
    "duration": [86_400],
    "kerf": [0.25],
    "csv": [True],
}  # fmt: skip
"""What makes a question heavier, by field; the schema allows each."""

WAVES = [[0, 8], [300, 2], [600, 7.5], [900, 8], [1200, 7], [1600, 3]]
"""A curve that may be crossed more than once: each state has to be searched along all of it."""

VALUES = [
    None, True, False, 0, -0.0, 1, -1, 1e-300, 5e-324, 1e300, 1.7e308, -1e300, 2**53 + 1, 10**25, 0.1, 1e-6, 1e6,
    "", " ", "0", "6 in", "4 1/2 in", "-1 1/2 in", "6 IN", "1e3 mm", "9" * 400, "999999999 in", "6 in\n", "٦ in",
    "0.000000000000001 mm", "scfm", "400 scfm", "400 cfm", "50 %", "101 %", "\u0000", "\ud800", "🪚" * 40, "x" * 65,
    "x" * 100_000, "NaN", "Infinity", "null", "__proto__", "${7*7}", "'; drop table runs; --", "<svg onload=alert(1)>",
    "../../etc/passwd", [], {}, [[]], [None], {"type": "elbow"}, {"type": "__class__"}, {"type": ["elbow"]}, [1, 2, 3],
    {"a": {"a": {"a": {}}}},
]  # fmt: skip
LITERALS = [b"NaN", b"Infinity", b"-Infinity", b"1e999", b"-1e999", b"1e-999", b"01", b"1.", b".5", b"+1", b"0x10",
            b"1_000", b"\xff", b"\xed\xa0\x80", b"\x00", b"'x'", b"[" * 3000, b'{"a":' * 3000, b"9" * 5000]  # fmt: skip


def bodies(count, seed):
    """Yield pairs of a call and a body."""
    chance = random.Random(seed)
    for _ in range(count):
        call = chance.choice(POSTS)
        document = copy.deepcopy(examples.request(call.name))
        if chance.random() < 0.2:
            burden(document, chance, call)
        shaped = chance.random() < 0.3
        for _ in range(chance.choice((1, 1, 2, 3)) if shaped else chance.choice((1, 1, 1, 2, 3, 8))):
            chance.choice(SHAPES if shaped else BENDS)(inner(document, chance) if shaped else document, chance)
        body = json.dumps(document).encode()
        if not shaped and chance.random() < 0.15:
            body = damaged(body, chance)
        yield call, body


def inner(document, chance):
    """Return one of the trees and outlines that a document is or holds."""
    held = [document, *(container[key] for container, key in places(document))]
    return chance.choice(
        [one for one in held if isinstance(one, dict) and {"runs", "lines"} & one.keys()] or [document]
    )


def places(node):
    """Return every container of a document with each of its keys."""
    found = []
    keys = list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ()
    for key in keys:
        found.append((node, key))
        found += places(node[key])
    return found


def replace(document, chance):
    container, key = chance.choice(places(document) or [({"x": 1}, "x")])
    container[key] = copy.deepcopy(chance.choice(VALUES))


def remove(document, chance):
    container, key = chance.choice(places(document) or [({"x": 1}, "x")])
    del container[key]


def add(document, chance):
    container, _ = chance.choice(places(document) or [({}, "x")])
    value = copy.deepcopy(chance.choice(VALUES))
    if isinstance(container, dict):
        container[chance.choice(["x", "type", "id", "into", "units", "hood", "gate", "rise", "__class__", ""])] = value
    else:
        container.insert(chance.randrange(len(container) + 1), value)


def repeat(document, chance):
    lists = [container[key] for container, key in places(document) if isinstance(container[key], list)]
    chosen = chance.choice([given for given in lists if given] or [[0]])
    chosen += [copy.deepcopy(chance.choice(chosen)) for _ in range(chance.choice((1, 3, 60, 300)))]


def scale(document, chance):
    numbers = [(container, key) for container, key in places(document) if type(container[key]) in (int, float)]
    if numbers:
        container, key = chance.choice(numbers)
        container[key] *= chance.choice((0, -1, 1e-9, 1e-3, 0.5, 2, 10, 1e3, 1e9, 1 + 1e-12))


def rewire(document, chance):
    """Make cycles, dangling ends, several roots and crowded junctions of a tree."""
    listed = document.get("runs")
    runs = [run for run in listed if isinstance(run, dict)] if isinstance(listed, list) else []
    if runs:
        run = chance.choice(runs)
        run["into"] = chance.choice([*(other.get("id") for other in runs), None, "nobody", run.get("id")])
        if chance.random() < 0.3:
            branch = {"type": "branch", "angle": chance.choice((0, 5, 30, 90, 180))}
            run["join"] = chance.choice([{"type": "straight"}, branch, None])


def lengthen(document, chance):
    """Hang a long chain, a wide fan or a deep comb of runs on a tree."""
    runs = document.get("runs")
    if not isinstance(runs, list) or not runs:
        return
    size = chance.choice((2, 20, 150))
    shape = chance.choice(("chain", "fan", "comb"))
    into = "main"
    for index in range(size):
        run = {"id": f"more-{index}", "into": into, "diameter": 6, "length": 3, "duct": "spiral-galvanized"}
        if shape != "chain":
            run["join"] = {"type": "branch", "angle": 30}
        if shape == "fan" or index == size - 1 or (shape == "comb" and index % 2):
            run["hood"] = {"flow": 100, "entry": {"type": "plain-opening"}}
        runs.append(run)
        if shape == "chain" or (shape == "comb" and not index % 2):
            into = run["id"]


BORES = [10, 10.5, 25.4, 37, 63.5, 99.999, 100, 100.001, 101.6, 152.4, 315, 630, 1250, 2999, 3000]
"""Odd and extreme bores, mm."""


def odd_bores(document, chance):
    """Give some runs a bore that no shop has beside one that it has."""
    for run in _runs(document):
        if chance.random() < 0.4:
            run["diameter"] = f"{chance.choice(BORES)} mm"


def long_tapers(document, chance):
    """Put tapers of odd length and extreme ratio into runs, and joins that change size."""
    runs = _runs(document)
    for run in chance.sample(runs, min(len(runs), 3)):
        first, second = chance.choice(BORES), chance.choice(BORES)
        length = chance.choice((0, 0.001, 1, 50, 999, 5_000, 9_999, 10_000))
        taper = {"type": "taper", "upstream_diameter": f"{first} mm", "downstream_diameter": f"{second} mm"}
        taper["length"] = f"{length} mm"
        where = chance.randrange(4)
        if where < 3:
            fittings = run.get("fittings") if isinstance(run.get("fittings"), list) else []
            run["fittings"] = [*fittings, taper] if where else [taper, *fittings]
            run["diameter"] = taper["upstream_diameter" if where else "downstream_diameter"]
            if where == 2:  # and back again, with duct of its own between
                back = {"upstream_diameter": f"{second} mm", "downstream_diameter": f"{first} mm"}
                step = chance.choice(({"type": "abrupt-change"}, taper)) | back
                taper["at"], step["at"] = chance.choice(((0, 0), (0.01, 1), (1, 0.5), (2, 1e4)))
                run["fittings"].append(step)
        elif isinstance(run.get("join"), dict) and run["join"].get("type") == "straight":
            run["join"] = {"type": "straight", "taper_length": f"{length} mm"}


def crowded_comb(document, chance):
    """Hang hundreds of hoods on one trunk, each by a branch of its own, or as many machines on one line."""
    if isinstance(document.get("lines"), list) and isinstance(document.get("machines"), list):
        _crowded_line(document, chance)
        return
    if not isinstance(document.get("runs"), list):
        return
    trunk, branch = chance.choice(BORES), chance.choice(BORES)
    hoods, angle = chance.choice((10, 100, 400, 700, 1_500)), chance.choice((15, 30, 45, 90))
    length = chance.choice((0, 0.01, 1, 30))
    pipe = {"length": length, "duct": "spiral-galvanized"}
    hood = {"flow": chance.choice((0.01, 50, 400, 20_000)), "entry": {"type": "plain-opening"}}
    runs, into = [], None
    for number in range(hoods):
        further = {} if into is None else {"join": {"type": "straight"}}
        runs.append({"id": f"trunk-{number}", "into": into, "diameter": f"{trunk} mm", **further, **pipe})
        into = f"trunk-{number}"
        join = {"type": "branch", "angle": angle}
        leaf = {"id": f"comb-{number}", "into": into, "join": join, "diameter": f"{branch} mm", "hood": hood, **pipe}
        runs.append(leaf | ({"gate": {"opening": chance.choice((0, 1e-4, 0.5, 1))}} if chance.random() < 0.3 else {}))
    end = {"id": "end", "into": into, "join": {"type": "straight"}, "diameter": f"{trunk} mm", "hood": hood}
    document["runs"] = [*runs, end | pipe]


def _crowded_line(outline, chance):
    """Hang hundreds of machines on an outline's first line."""
    line = outline["lines"][0] if outline["lines"] and isinstance(outline["lines"][0], dict) else {}
    count, ports = chance.choice((10, 100, 400)), chance.choice(BORES)
    line["length"] = chance.choice((1, 60, 2_000))
    line.pop("path", None)
    outline["machines"] = [
        {"id": f"machine-{number}", "machine": chance.choice(("table-saw", "planer", "no-such-thing")),
         "line": line.get("id"), "at": line["length"] * (number + 1) / count, "off": chance.choice((0, 0.01, 3)),
         "drop": 2, "port": f"{ports} mm", "hose": chance.choice((0, 1)), "flow": chance.choice((0.01, 400, 20_000))}
        for number in range(count)
    ]  # fmt: skip


def extreme(document, chance):
    """Put values from the ends of what a field may hold into a whole document at once."""
    for container, key in places(document):
        if type(container[key]) in (int, float) and chance.random() < 0.15:
            container[key] = chance.choice((0, 1e-12, 1e-6, 1e-3, 1, 10, 1e3, 1e5, 1 - 1e-12, 1 + 1e-9))


def _runs(document):
    listed = document.get("runs") if isinstance(document, dict) else None
    return [run for run in listed if isinstance(run, dict)] if isinstance(listed, list) else []


def burden(document, chance, call):
    """Ask for all that a question may be asked for, of a fan that is hard to follow."""
    for name in chance.sample(sorted(BURDENS), len(BURDENS)):
        if name in call.request.__struct_fields__ and chance.random() < 0.7:
            value = copy.deepcopy(chance.choice(BURDENS[name]))
            document[name] = {"fans": _fans, "states": _states}.get(name, lambda *given: given[1])(document, value)
    collector = document.get("collector")
    if isinstance(collector, dict) and isinstance(collector.get("fan"), dict) and chance.random() < 0.5:
        rise = [[40 * step, 8 - 0.1 * step + 0.15 * (step % 2)] for step in range(40)]
        points = chance.choice((WAVES, rise))
        collector["fan"]["curve"] = [{"flow": flow, "pressure": pressure} for flow, pressure in points]


def _fans(document, count):
    fan = (document.get("collector") or {}).get("fan")
    return [{"name": f"fan {number}", "fan": fan} for number in range(count)]


def _states(document, count):
    machines = [machine["id"] for machine in document.get("machines") or ()]
    ids = [run["id"] for run in document.get("runs") or () if run.get("gate")] or machines
    sets = [[run for k, run in enumerate(ids) if number >> k & 1] for number in range(count)]
    return [{"name": f"state {number}", "open": opened} for number, opened in enumerate(sets)]


BENDS = [replace, replace, remove, add, repeat, scale, scale, scale, rewire, rewire, lengthen]
SHAPES = [odd_bores, long_tapers, crowded_comb, extreme]
"""Bends that leave a document honest by its schema, so that it reaches the laws."""


def damaged(body, chance):
    """Return the bytes cut, flipped or with something put between them."""
    at = chance.randrange(len(body) or 1)
    kind = chance.randrange(5)
    if kind == 0:
        return body[:at]
    if kind == 1:
        return body[:at] + bytes([chance.randrange(256)]) + body[at + 1 :]
    if kind == 2:
        return body[:at] + chance.choice(LITERALS) + body[at:]
    if kind == 3:
        return body.replace(b": ", b": " + chance.choice(LITERALS) + b", ", 1)
    half = body[: len(body) // 2]
    return half + body


def ask(call, body, settings):
    """Return status and text as the service would send them."""
    try:
        answer = respond.answer_body(body, call, settings)
        return 200, negotiation.rendered(answer, "")[0]
    except Exception as error:  # as the service does
        refused = problems.from_exception(error, "hostile")
        if refused.status == 500:
            raise
        return refused.status, refused.body()


def timed(call, body, settings):
    """Return the processor's seconds that an answer took, and the answer."""
    start = time.thread_time()
    with deadline.limited(deadline.within(settings.compute_timeout)):
        told = ask(call, body, settings)
    return time.thread_time() - start, told


def check(call, body, settings=None):
    """Return the status of the answer to a body, or fail: no hang, and as `judge`."""
    settings = settings or Settings()
    most = settings.compute_timeout
    settings = dataclasses.replace(settings, compute_timeout=BUSY * most)
    seconds, (status, text) = timed(call, body, settings)
    assert seconds < most, f"{call.name} took {seconds:.1f} s for {len(body)} bytes: {body[:2000]!r}"
    if len(body) < SMALL and seconds > SECONDS:
        seconds, _ = timed(call, body, settings)  # compiled code is loaded by the first question that needs it
        assert seconds < SECONDS, f"{call.name} took {seconds:.1f} s for {len(body)} bytes: {body[:2000]!r}"
    judge(call, status, text)
    return status


def judge(call, status, text):
    """Fail where an answer is a fault of the service, has a number missing, or tells a fault without its place."""
    told = json.loads(text, parse_constant=_refuse)
    if status == 200:
        assert_finite(told, call.name)
        return
    assert status in (400, 413, 422), (status, told)
    assert told["errors"] or told["type"] == "/problems/too-large", told
    for fault in told["errors"]:
        assert fault["code"], told
        assert fault["detail"], told
        assert fault["path"] or fault["code"] in OF_THE_WHOLE, told


def assert_finite(node, path):
    """Fail where a number is no number, or missing: JSON has neither NaN nor a hole."""
    if isinstance(node, float):
        assert math.isfinite(node), path
    elif isinstance(node, dict):
        for key, item in node.items():
            assert_finite(item, f"{path}.{key}")
    elif isinstance(node, list):
        for index, item in enumerate(node):
            assert_finite(item, f"{path}[{index}]")


def _refuse(constant):
    raise AssertionError(f"the answer holds {constant}")
