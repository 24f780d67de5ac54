"""Heavy questions about an invented comb of ducts: a main with a hood on a branch every few metres."""

import random

from airbough_service.api.document import examples

ENTRY = {"type": "plain-opening"}
DUCT = "spiral-galvanized"
WAVES = [{"flow": 40 * step, "pressure": 8 - 0.1 * step + 0.15 * (step % 2)} for step in range(40)]
BASE = {name: examples.request("operating-point")[name] for name in ("units", "air", "dust", "collector")}
WAVY = BASE | {"collector": BASE["collector"] | {"fan": BASE["collector"]["fan"] | {"curve": WAVES}}}


def chain(runs):
    """Return so many runs one behind the other, with one hood."""
    out = [{"id": "r0", "into": None, "diameter": 8, "length": 0.5, "duct": DUCT}]
    for number in range(1, runs):
        out.append({"id": f"r{number}", "into": f"r{number - 1}", "diameter": 8, "length": 0.04, "duct": DUCT})
    out[-1] |= {"hood": {"flow": 600, "entry": ENTRY}, "gate": {"opening": 1}}
    return out


def comb(hoods, opening=1, flow=300):
    """Return a main with so many hoods on branches, and one at its end."""
    out = [{"id": "m0", "into": None, "diameter": 8, "length": 3, "duct": DUCT}]
    for number in range(hoods):
        hood = {"hood": {"flow": flow, "entry": ENTRY}, "gate": {"opening": opening}}
        into = f"m{number}"
        branch = {"id": f"h{number}", "into": into, "diameter": 4, "length": 5, "duct": DUCT}
        out.append(branch | {"join": {"type": "branch", "angle": 30}} | hood)
        onward = {"id": f"m{number + 1}", "into": into, "diameter": 8, "length": 3, "duct": DUCT}
        out.append(onward | {"join": {"type": "straight"}})
    out[-1] |= {"hood": {"flow": flow, "entry": ENTRY}, "gate": {"opening": opening}}
    return out


def sizing_stock(*sizes):
    """Return every piece in these bores, priced in an invented currency."""
    wyes = [
        {"type": "wye", "diameter": wide, "branch_diameter": narrow, "angle": 30, "price": wide + narrow}
        for wide in sizes
        for narrow in sizes
        if narrow <= wide
    ]
    tapers = [
        {"type": "taper", "diameter": narrow, "downstream_diameter": wide, "price": wide}
        for wide in sizes
        for narrow in sizes
        if narrow < wide
    ]
    return {
        "ducts": [{"diameter": size, "duct": DUCT, "price_per_length": size} for size in sizes],
        "fittings": [*wyes, *tapers],
        "gates": [{"diameter": size, "price": 3 * size} for size in sizes],
    }


def pipes():
    """Return stock lengths of pipe that cut badly."""
    ducts = [
        {"item": f"pipe {bore} {length}", "diameter": bore, "duct": DUCT, "piece_length": length,
         "upstream_end": "receives", "downstream_end": "enters", "price": length * bore}
        for bore in (4, 8)
        for length in (3.3, 4.7, 5.9, 7.1)
    ]  # fmt: skip
    return {"ducts": ducts}


def odd_lengths(runs):
    """Return the runs with lengths that nothing divides."""
    dice = random.Random(1)
    return [run | {"length": round(dice.uniform(0.5, 9.0), 3)} for run in runs]


def day(spells, machines):
    """Return a day of so many spells of each machine."""
    times = [{"on": 40 * number, "off": 40 * number + 17} for number in range(spells)]
    return {
        "machines": [{"machine": name, "times": times} for name in machines],
        "duration": 86_400,
        "gate_delay": 1,
        "fan_delay": 1,
        "rest": 10,
        "starts_allowed": 1,
    }


def hoods_along_a_main(count):
    """Return an invented shop of many machines, and the question for all states of up to four of them."""
    duct = {"length": 8, "duct": "spiral-galvanized"}
    runs = []
    for k in range(count):
        hood = {
            "hood": {"machine_id": f"m{k}", "flow": 350, "entry": {"type": "plain-opening"}},
            "gate": {"opening": 1},
        }
        join = {"join": {"type": "straight"}} if k else {}
        main = {"id": f"main-{k}", "into": f"main-{k - 1}" if k else None, "diameter": 10, **duct, **join}
        if k == count - 1:
            runs.append(main | hood)
        else:
            arm = {"id": f"arm-{k}", "into": f"main-{k}", "join": {"type": "branch", "angle": 45}, "diameter": 4}
            runs += [main, arm | duct | hood]
    collector = examples.request("operating-point")["collector"]
    return {"units": "us", "dust": "shavings", "runs": runs, "collector": collector, "up_to": 4}
