"""`.venv/bin/python tests/handbook/validation.py` writes the page that the service serves at `/docs/validation`.

It is made of the cases that the tests check: the single values and worked examples of `cases`, the libraries of
`peers`, and the passports of the catalogue.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from airbough_service import catalogue
from airbough_service.catalogue import reading
from handbook import (
    computing,
    examples,
    industrial_exhaust,
    measured_junctions,
    read_values,
    site_computing,
    validation_html,
)
from handbook.peers import Peer, peers

CASES = Path(__file__).parent / "cases"
PAGE = (
    Path(validation_html.__file__)
    .parents[2]
    .joinpath("service", "airbough_service", "api", "document", "static", "validation.html")
)
SINGLE = {
    "fitting-values": computing.computed, "published-values": computing.computed,
    "method-values": computing.computed, "site-values": site_computing.computed,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """One printed value beside ours.

    Attributes:
        what: in words.
        place: in its source.
        how: `read`, `memory` or `worked`.
        printed, ours: in the unit.
        unit: as the case writes it.
        tolerance: absolute, from the printed rounding or the source's own spread.
        method: what the source's own method gives, where the printed value contradicts it.
        note: what else a reader should know.
    """

    what: str
    place: str
    how: str
    printed: float
    ours: float
    unit: str
    tolerance: float
    method: float | None = None
    note: str = ""

    @property
    def difference(self) -> float | None:
        """Ours against the printed value, relative; None against nothing."""
        return None if self.printed == 0.0 else self.ours / self.printed - 1.0


@dataclass(frozen=True, slots=True)
class Source:
    """A document with every value of it that is checked."""

    title: str
    lines: list[Line] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Example:
    """A complete worked example, line by line."""

    title: str
    source: str
    place: str
    how: str
    note: str
    lines: list[Line]


@dataclass(frozen=True, slots=True)
class Remembered:
    """A number of the catalogue that nobody has read in its source."""

    file: str
    entry: str
    place: str
    how: str
    spread: float


@dataclass(frozen=True, slots=True)
class Validation:
    """All of the page."""

    sources: list[Source]
    examples: list[Example]
    peers: list[Peer]
    remembered: list[Remembered]


@cache
def gathered() -> Validation:
    """Compute everything that the page tells."""
    worked = sorted(map(_example, examples.DOCUMENTS), key=_slips)
    return Validation(_sources(), [*worked, _under_our_law()], peers(), _remembered())


def _slips(example: Example) -> int:
    """Return how many printed values of an example contradict its own method."""
    return sum(line.method is not None for line in example.lines)


def _sources() -> list[Source]:
    found: dict[str, Source] = {}
    for name, computed in SINGLE.items():
        for check in tomllib.loads((CASES / f"{name}.toml").read_text("utf-8"))["check"]:
            title = _title(check["source"])
            found.setdefault(title, Source(title)).lines.extend(_lines(check, computed(check)))
    for value, passport in _read_values():
        title = _title(passport["source"])
        line = Line(
            value.what, passport["place"], "read", value.printed, value.ours(), value.unit.replace("^", ""),
            value.tolerance, note=value.note,
        )  # fmt: skip
        found.setdefault(title, Source(title)).lines.append(line)
    for measured, source in measured_junctions.lines():
        found.setdefault(_title(source), Source(_title(source))).lines.append(Line(**measured))
    return sorted(found.values(), key=lambda source: (-len(source.lines), source.title))


def _read_values() -> Iterator[tuple[read_values.Value, dict[str, Any]]]:
    """Give every value that a read entry of the catalogue is checked by, with the entry's passport."""
    of = {
        f"{name} {entry}": passport
        for name in reading.names()
        for entry, passport in _passports(reading.read(name), ())
    }
    return ((value, of[value.entry]) for value in read_values.VALUES)


def _title(word: str) -> str:
    """Return a source in words: the bibliography's where it is one of its ids."""
    known = {source.id: source for source in catalogue.all_sources()}.get(word)
    if known is None:
        return word
    return known.title if known.edition == "none" or known.edition in known.title else f"{known.title}, {known.edition}"


def _lines(check: dict[str, Any], ours: Any) -> Iterator[Line]:
    """Give a line for each printed number of a check."""
    printed = check["expected"]
    several = isinstance(printed, list)
    for number, (one, own) in enumerate(zip(printed, ours, strict=True) if several else [(printed, ours)], 1):
        yield Line(
            what=_words(check) + (f", no. {number}" if several else ""),
            place=check["place"],
            how=_how(check["how"]),
            printed=float(one),
            ours=float(own),
            unit=check["unit"],
            tolerance=float(check["tolerance"]),
            method=check.get("method_value") if check.get("departs") else None,
            note=check.get("note", ""),
        )


def _words(check: dict[str, Any]) -> str:
    """Return what is computed and of what."""
    inputs = ", ".join(f"{key.replace('_', ' ')} {_short(value)}" for key, value in check["inputs"].items())
    return f"{check['what'].replace('-', ' ')} ({inputs})" if inputs else check["what"].replace("-", " ")


def _short(value: Any) -> str:
    if isinstance(value, list):
        return f"{len(value)} values"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def _how(text: str) -> str:
    """Return the first word: some cases add how."""
    return text.replace(",", " ").replace(";", " ").split()[0]


def _example(name: str) -> Example:
    case = examples.DOCUMENTS[name]
    lines = [
        Line(
            what=_path(expect["path"]),
            place="",
            how=_how(case["how"]),
            printed=float(expect["value"]),
            ours=examples.computed(name, expect),
            unit=expect.get("unit", "-").replace("_velocity", ""),
            tolerance=float(expect["tolerance"]),
            method=expect.get("method_value") if expect.get("departs") else None,
            note=expect.get("note", ""),
        )
        for expect in case["expect"]
    ]
    return Example(case["title"], _title(case["source"]), case["place"], case["how"], case.get("note", ""), lines)


def _path(path: str) -> str:
    """Return the place of a value in an answer as words."""
    first, *rest = path.replace("_", " ").split(".")
    one = {"runs": "run", "hoods": "hood", "branches": "branch"}.get(first)
    return " ".join(rest) if one is None else f"{one} {rest[0]}: {' '.join(rest[1:])}"


def _under_our_law() -> Example:
    """Return the published exhaust system with our fittings and laws in place of the printed coefficients."""
    lines = [
        Line(part.what, "", "read", part.printed, part.ours, "Pa", part.allowed, note=part.why)
        for part in (*industrial_exhaust.fittings(), *industrial_exhaust.joins(), industrial_exhaust.outlet())
    ]
    for one in industrial_exhaust.sums():
        why = f"The lines above explain {one.explained:+.0f} Pa; rounding of what is printed {one.rounded:g} Pa."
        allowed = abs(one.explained) + one.rounded
        lines.append(Line(one.what, "", "read", one.printed, one.ours, "Pa", allowed, note=why))
    case = examples.DOCUMENTS["example-industrial-exhaust"]
    note = (
        "The same system by our own elbows, wheel hoods and junctions: where we depart, line by line. An elbow may "
        "differ by the spread that the catalogue tells, a junction by as much as the published law on the same side of "
        "the printed value; sections and the fan are told with what these lines explain of them."
    )
    title = "The industrial exhaust system by our own fittings and junctions"
    return Example(title, case["source"], case["place"], case["how"], note, lines)


def _remembered() -> list[Remembered]:
    found = []
    for name in reading.names():
        for entry, passport in _passports(reading.read(name), ()):
            if passport["how"] != "read":
                place = f"{_title(passport['source'])}, {passport['place']}"
                found.append(Remembered(name, entry, place, passport["how"], passport["spread"]))
    return found


def _passports(part: Any, path: tuple[str, ...]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Give every passport of what is answered with; what other sources say stands beside it and is left out."""
    if isinstance(part, list):
        for number, one in enumerate(part):
            yield from _passports(one, (*path, str(one.get("id", number + 1)) if isinstance(one, dict) else ""))
    elif isinstance(part, dict):
        for key, value in part.items():
            if key.endswith("passport") and isinstance(value, dict):
                yield " ".join(word for word in path if word) or key, value
            elif key != "others":
                yield from _passports(value, (*path, key))


def main() -> None:
    """Write the page."""
    PAGE.write_text(validation_html.page(gathered()), encoding="utf-8")
    sys.stdout.write(f"{PAGE}\n")


if __name__ == "__main__":
    main()
