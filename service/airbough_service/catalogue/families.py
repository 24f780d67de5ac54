"""Families of fittings as the catalogue describes them: parameters, tables, constants."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

from airbough_service.catalogue import reading
from airbough_service.catalogue.passports import (
    Passport,
    passport_of,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.table import (
    Axis,
    Table,
    table,
)

Range = tuple[float, float]
Parameters = Mapping[str, float | str]


@dataclass(frozen=True, slots=True)
class Parameter:
    """A parameter of a family.

    Attributes:
        name: as on the wire.
        kind: `angle`, `ratio`, `diameter`, `fitting-length`, `share`, `count`, `word` or `coefficient`.
        minimum: refused below.
        maximum: refused above.
        required: whether it must be given.
        default: what holds where it is left out.
        published: a finding outside.
        words: what a word may be.
        one_of: parameters that share this mark stand in for one another.
        not_for: tables that do not use it.
        passport: of the default.
    """

    name: str
    kind: str
    minimum: float
    maximum: float
    required: bool
    default: float | str | None
    published: Range | None
    words: tuple[str, ...]
    one_of: str | None
    not_for: tuple[str, ...]
    passport: Passport | None


@dataclass(frozen=True, slots=True)
class FamilyTable:
    """A published table of a family, with what it was printed for.

    Attributes:
        id: the word that chooses it.
        title: what it is.
        table: the coefficients.
        published: ranges that it was printed for.
        passport: where it comes from.
        by_bore: factor on them by the bore [m], where one is published.
    """

    id: str
    title: str
    table: Table
    published: dict[str, Range]
    passport: Passport
    by_bore: BoreFactor | None


@dataclass(frozen=True, slots=True)
class BoreFactor:
    """A factor by the bore [m], and where it comes from."""

    table: Table
    passport: Passport


@dataclass(frozen=True, slots=True)
class Family:
    """A family of fittings: what the catalogue knows of one `type`."""

    type: str
    title: str
    place: str
    refers_to: str
    function: str
    summary: str
    parameters: dict[str, Parameter]
    tables: dict[str, FamilyTable]
    block: dict[str, Any]

    def published(self, values: Mapping[str, Any], part: Mapping[str, Any] | None = None) -> dict[str, Range]:
        """Return the published ranges: the parameters' own, then those of the table or part that answers."""
        ranges = {name: parameter.published for name, parameter in self.parameters.items() if parameter.published}
        table_id = values.get("construction")
        for name, parameter in self.parameters.items():
            if table_id in parameter.not_for:
                ranges.pop(name, None)
        return ranges | ranges_of(part or {})


def ranges_of(block: Mapping[str, Any]) -> dict[str, Range]:
    """Return the published ranges of a block."""
    return {name: (float(low), float(high)) for name, (low, high) in block.get("published", {}).items()}


def table_of(block: Mapping[str, Any]) -> Table:
    """Return the table of a block; axes named in its `held` hold their end values outside."""
    held = block.get("held", ())
    axes = [Axis(axis["name"], tuple(map(float, axis["values"])), axis["name"] in held) for axis in block["axes"]]
    return table(axes, block["values"], block.get("interpolation") == "log-log")


@cache
def multiplier_of(type_: str) -> Table:
    """Return a family's factor by angle."""
    block = families()[type_].block["angle_multiplier"]
    return table([Axis("angle", tuple(map(float, block["angles"])))], block["values"])


class Interaction(NamedTuple):
    """What two elbows of a pair do to one another: the factor on their sum, and how far it may be off.

    Mitered ones with less straight between them than `close_below` diameters have the spread `close_spread`.
    """

    factor: float
    passport: Passport
    close_below: float
    close_spread: float


@cache
def interaction_of(type_: str) -> Interaction:
    """Return the interaction of a pair of elbows."""
    block = families()[type_].block["interaction"]
    close = block["close_mitered"]
    return Interaction(float(block["value"]), passport_of(block), float(close["below"]), float(close["spread"]))


def _parameter(name: str, block: dict[str, Any]) -> Parameter:
    return Parameter(
        name=name,
        kind=block["kind"],
        minimum=float(block.get("minimum", 0.0)),
        maximum=float(block.get("maximum", 0.0)),
        required=block["required"],
        default=block.get("default"),
        published=(float(block["published"][0]), float(block["published"][1])) if "published" in block else None,
        words=tuple(block.get("words", ())),
        one_of=block.get("one_of"),
        not_for=tuple(block.get("not_for", ())),
        passport=passport_of(block) if "passport" in block else None,
    )


def _family(type_: str, block: dict[str, Any]) -> Family:
    return Family(
        type=type_,
        title=block["title"],
        place=block["place"],
        refers_to=block["refers_to"],
        function=block["function"],
        summary=block["summary"],
        parameters={name: _parameter(name, part) for name, part in block.get("parameters", {}).items()},
        tables={part["id"]: _table(part) for part in block.get("table", ())},
        block=block,
    )


def _table(part: dict[str, Any]) -> FamilyTable:
    by_bore = part.get("by_bore")
    factor = None if by_bore is None else BoreFactor(table_of(by_bore), passport_of(by_bore))
    return FamilyTable(part["id"], part["title"], table_of(part), ranges_of(part), passport_of(part), factor)


@cache
def families() -> dict[str, Family]:
    """Return every family of fittings by its type."""
    return {
        type_: _family(type_, block)
        for name in reading.FITTING_FILES
        for type_, block in reading.read(name).items()
        if block["place"] != "rule"
    }


def family(type_: str) -> Family:
    """Return one family.

    Raises:
        UnknownWordError: where the catalogue has none of this type.
    """
    known = families()
    if type_ not in known:
        raise reading.UnknownWordError("fitting", type_, known)
    return known[type_]


def completed(of: Family, given: Parameters) -> dict[str, Any]:
    """Return the parameters with defaults filled in, each checked against its words or range.

    Raises:
        UnknownWordError: a parameter or word that the family does not know.
        MissingParameterError: a required one was left out.
        OutsideTableError: a number outside what is answered.
    """
    for name in given:
        if name not in of.parameters:
            raise reading.UnknownWordError("parameter", name, of.parameters)
    values: dict[str, Any] = {}
    for name, parameter in of.parameters.items():
        value = given.get(name, parameter.default)
        if value is None:
            if parameter.required:
                raise reading.MissingParameterError(of.type, (name,))
            continue
        values[name] = _checked(parameter, value)
    return values


def _checked(parameter: Parameter, value: Any) -> Any:
    if parameter.kind == "word":
        if value not in parameter.words:
            raise reading.UnknownWordError(parameter.name, str(value), parameter.words)
        return value
    slack = 1.0e-9
    if not parameter.minimum * (1 - slack) <= value <= parameter.maximum * (1 + slack):
        raise OutsideTableError(parameter.name, value, parameter.minimum, parameter.maximum)
    return min(max(float(value), parameter.minimum), parameter.maximum)
