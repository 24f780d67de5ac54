"""Documents with something wrong in them, by chance."""

import copy
import math

VALUES = (
    None, True, False, 0, -1, 1.5, 2.0, 5e-324, -1e300, 1e300, 10**25, 10**400, math.nan, math.inf, -math.inf, "", " ",
    9999, 1e-3, "0", "6 in",
    "6 IN", "4 1/2 in", "5/4 in", "6 parsec", "400 scfm", "1,000 cfm", "1 000 cfm", "150 %", "1e3 mm",
    "x" * 65, "\u0000", "a\nb", "\u2028", [], {}, [None], [[]], {"type": "elbow"}, {"type": 7}, [1, "2", 3.0],
)  # fmt: skip


def places(node):
    """Return every container of a document with each of its keys."""
    keys = list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ()
    return [(node, key) for key in keys] + [place for key in keys for place in places(node[key])]


def bend(document, chance):
    container, key = chance.choice(places(document) or [(document, "x")])
    numbers = [place for place in places(document) if type(place[0][place[1]]) in (int, float)]
    if numbers and chance.random() < 0.4:
        container, key = chance.choice(numbers)
        container[key] = chance.choice([9999, 1e-3, -1, "0", "6 in", "400 cfm", "1,000 in", 2.0, math.nan])
        return
    how = chance.randrange(4)
    if how == 0 and isinstance(container, dict):
        del container[key]
    elif how == 1 and isinstance(container, dict):
        container[chance.choice(["colour", "type", "units", "id", "openin", ""])] = copy.deepcopy(chance.choice(VALUES))
    elif how == 2 and type(container[key]) is int and abs(container[key]) < 2**53:
        container[key] = float(container[key])
    else:
        container[key] = copy.deepcopy(chance.choice(VALUES))
