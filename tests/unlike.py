"""Documents no two of which have a number or a word in common, so that whatever is remembered of them adds up.

The same seed makes the same documents. All is invented.
"""

import random

from airbough.calls import CALLS
from airbough.wire.places import places_of
from airbough_service.api.document import examples


def _lengths():
    """Return the names of all fields that are lengths, or lists of them."""
    names, seen = set(), set()

    def look(struct):
        if struct not in seen:
            seen.add(struct)
            for name, place in places_of(struct).items():
                part = place
                while part is not None:
                    if part.kind in ("diameter", "length"):
                        names.add(name)
                    for inner in part.structs:
                        look(inner)
                    part = part.item

    for call in CALLS:
        look(call.request)
    return names


LENGTHS = _lengths()


class Unlike:
    """Makes the documents."""

    def __init__(self, seed):
        self._chance = random.Random(seed)

    def number(self, low, high):
        """Return a number that comes once."""
        return self._chance.uniform(low, high)

    def word(self):
        """Return a word of the greatest length that a word may have, which no catalogue has."""
        return "".join(self._chance.choices("абвгдежзиклмнопрстуфхцчшщ", k=64))

    def example(self, name):
        """Return the example request of a question a little smaller, all its lengths by one factor."""
        return self._smaller(examples.request(name), 1.0 - self.number(1.0e-6, 1.0e-3))

    def _smaller(self, node, factor, field=""):
        if isinstance(node, dict):
            return {name: self._smaller(part, factor, name) for name, part in node.items()}
        if isinstance(node, list):
            return [self._smaller(part, factor, field) for part in node]
        is_length = field in LENGTHS and isinstance(node, int | float) and not isinstance(node, bool)
        return node * factor if is_length else node

    def tree(self, branches, fittings, *, wrong=False):
        """Return a tree whose runs have as much as is remembered of one.

        Args:
            branches: along its main, each with a piece of the main of its own.
            fittings: of each run.
            wrong: whether each run has something that is refused.
        """
        runs = [{"id": "m", "into": None, "diameter": self._bore(), "length": 4.0, "duct": "spiral-galvanized"}]
        for number in range(branches):
            runs += self._pair(number, fittings, wrong=wrong)
        runs[-2] |= {"hood": {"flow": 100.0, "entry": {"type": "plain-opening"}}}
        air = {"temperature": self.number(10.0, 30.0), "altitude": self.number(0.0, 900.0), "humidity": 0.5}
        return {"units": "metric", "runs": runs, "air": air, "dust": "sawdust"}

    def collector(self):
        """Return a collector whose fan's curve has as many points as one that is remembered."""
        points = [{"flow": 100.0 * (at + self.number(0.0, 0.5)), "pressure": 3000.0 - 100.0 * at} for at in range(24)]
        return {"fan": {"curve": points, "rated_as": "fan-static", "includes": []}}

    def _pair(self, number, fittings, *, wrong):
        into = f"m{number - 1}" if number else "m"
        straight = {"type": "straight", "taper_length": self.number(200.0, 900.0)}
        branch = {"type": "branch", "angle": self.number(95.0, 170.0) if wrong else self.number(20.0, 80.0)}
        main = self._run(f"m{number}", into, fittings, wrong=wrong) | {"join": straight}
        side = self._run(f"r{number}", into, fittings, wrong=wrong) | {"join": branch, "hood": self._hood()}
        path = [[at + self.number(0.0, 0.5), self.number(0.0, 1.0), self.number(0.0, 1.0)] for at in range(20)]
        side["path"] = path
        if wrong:
            side["duct"] = self.word()
        elif not fittings:
            side |= {"duct": "flexible-hose-ribbed", "stretch": self.number(0.6, 1.0)}
        return main, side

    def _run(self, name, into, fittings, *, wrong):
        return {
            "id": name,
            "into": into,
            "diameter": self._bore(),
            "length": self.number(100.0, 200.0),
            "duct": "spiral-galvanized",
            "friction_multiplier": self.number(1.0, 2.0),
            "fittings": [self._fitting(wrong=wrong) for _ in range(fittings)],
        }

    def _fitting(self, *, wrong):
        angle = f"{self.number(31.0, 89.0):.12f} deg"
        if wrong:
            return {"type": "elbow", "angle": angle, "radius_ratio": self.number(50.0, 99.0)}
        kinds = (
            {"type": "elbow", "angle": angle, "radius_ratio": self.number(1.0, 2.0)},
            {"type": "elbow-pair", "angle": angle, "radius_ratio": self.number(1.0, 2.0), "spacer_ratio": 1.0},
            {"type": "slide-gate", "opening": self.number(0.5, 1.0)},
        )
        return self._chance.choice(kinds)

    def _hood(self):
        entry = {"type": "tapered-hood", "shape": "round", "included_angle": self.number(20.0, 170.0)}
        more = {"port_diameter": self._bore(), "port_coefficient": self.number(0.1, 0.9)}
        return {"flow": 100.0, "machine": self.word(), "size": self.number(0.1, 0.6), "entry": entry, **more}

    def _bore(self):
        return self.number(300.0, 400.0)
