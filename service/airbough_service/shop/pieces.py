"""A run's losses one by one: each piece with its coefficient, the bore it refers to, and its passport."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cached_property, lru_cache
from typing import Final, Literal, NamedTuple, TypeAlias

from msgspec import Struct, field, structs

from airbough.wire.collector import DischargePiece
from airbough.wire.collector import PowerLaw as WirePowerLaw
from airbough.wire.entry import Entry, KnownEntry
from airbough.wire.fitting import (
    AbruptChange,
    DischargeFitting,
    Elbow,
    ElbowPair,
    HoseBend,
    Offset,
    RunFitting,
    Taper,
)
from airbough.wire.places import below
from airbough.wire.problem import Fault
from airbough.wire.quantity import Preset
from airbough.wire.tree import Hood, Run
from airbough_service import catalogue
from airbough_service.catalogue import (
    Duct,
    Loss,
    MissingParameterError,
    Outside,
    Passport,
    UnknownWordError,
)
from airbough_service.core.errors import OutsideTableError
from airbough_service.core.laws.friction import PowerLaw
from airbough_service.core.network.tree import TERM_BYTES, area, term
from airbough_service.shop.opening import SMALLEST_OPENING, is_shut
from airbough_service.terms import sources
from airbough_service.terms.out_of_range import must_be

Part: TypeAlias = Literal["entry", "port", "fitting", "change", "gate"]
NO_LENGTH = 1.0e-9  # of duct, m: what is shorter is none
MOST_KEPT = 4096  # pieces of which the catalogue's answer is remembered
_UNANSWERED: Final = (UnknownWordError, OutsideTableError, MissingParameterError)
CHANGES: Final = (Taper, AbruptChange)
_TURNS: Final = (Elbow, ElbowPair, Offset)
NO_PARAMETERS = frozenset({"count", "at"})  # of a fitting, that its coefficient does not depend on
_LINES: Final = {"entry": 0, "port": 1, "fitting": 2, "change": 3}  # places of the sums of losses


class Piece(Struct, frozen=True):
    """One loss of a run.

    Attributes:
        part: which of the run's losses it belongs to.
        at: path within the run, or the piece after the fan, that it is of; empty for that itself.
        type: the fitting's or entry's type.
        coefficient: of one piece, on the velocity pressure in `bore`.
        bore: m.
        count: how many.
        entry: the catalogue's entry; empty for the caller's own coefficient.
        passport: where the coefficient comes from.
        outside: parameters beyond their published range.
        duct_part: number of the part of the run's duct that it stands on.
    """

    part: Part
    at: str
    type: str
    coefficient: float
    bore: float
    count: int = 1
    entry: str = ""
    passport: Passport | None = None
    outside: tuple[Outside, ...] = ()
    duct_part: int = 0


class Together(NamedTuple):
    """What is asked of the pieces of a run together.

    Attributes:
        terms: what each adds to the run's losses, as ``core.network.tree.Run.terms``.
        outside: whether any rests on a parameter beyond its published range.
        turning: how many fittings of the catalogue there are.
        abrupt: whether any is a change of bore without a taper, inside the run or at its end.
        origins: each document that they come from, and how its number was had, as `sources.bits`.
    """

    terms: bytes
    outside: bool
    turning: int
    abrupt: bool
    origins: int


class Pieces(tuple[Piece, ...]):
    """The losses of a run, or of a piece after the fan; what is asked of them together is worked out once."""

    @cached_property
    def together(self) -> Together:
        """What is asked of them together."""
        return Together(
            b"".join([_term(own, own.coefficient) for own in self]),
            any(own.outside for own in self),
            sum(own.count for own in self if own.part == "fitting" and own.entry),
            any(own.type == "abrupt-change" and own.part in ("change", "fitting") for own in self),
            sources.bits_of(*[own.passport for own in self]),
        )

    def terms_with(self, number: int, coefficient: float) -> bytes:
        """Return what all add to the run's losses if one of them, by its number, had another coefficient."""
        terms, at = self.together.terms, number * TERM_BYTES
        return terms[:at] + _term(self[number], coefficient) + terms[at + TERM_BYTES :]

    def and_then(self, more: Pieces) -> Pieces:
        """Return these pieces and further ones behind them; with the same ones as before, mostly the same."""
        if not more:
            return self
        known = _THEN.get((id(self), id(more)))
        if known is not None:
            return known[2]
        out, own, other = Pieces((*self, *more)), self.together, more.together
        if len(_THEN) >= MOST_KEPT:
            _THEN.clear()
        _THEN[id(self), id(more)] = self, more, out
        out.__dict__["together"] = Together(
            own.terms + other.terms,
            own.outside or other.outside,
            own.turning + other.turning,
            own.abrupt or other.abrupt,
            own.origins | other.origins,
        )
        return out


def _term(own: Piece, coefficient: float) -> bytes:
    """Return what a piece of this coefficient adds to a run's losses."""
    return term(_LINES[own.part], coefficient * own.count, 2.0 * area(own.bore) ** 2)


NO_PIECES: Final = Pieces()
_THEN: Final = dict[tuple[int, int], tuple[Pieces, Pieces, Pieces]]()  # by `id`, of what it keeps from ending


class DuctPart(Struct, frozen=True):
    """A length of duct of one bore: a whole run's, or one between two changes of bore inside it.

    Attributes:
        bore: m.
        length: m.
        at: path within the run of what the bore is told by.
    """

    bore: float
    length: float
    at: str


class Course(Struct, frozen=True):
    """A run's duct in the direction of flow.

    Attributes:
        parts: at least one; only the one of a run without length has none.
        of_fitting: by fitting, the number of the part that it stands on.
        begins: by part, how many fittings stand before it.
    """

    parts: tuple[DuctPart, ...]
    of_fitting: tuple[int, ...]
    begins: tuple[int, ...]


class Junction(Struct, frozen=True):
    """What a run's junction law rests on; `coefficient` is the entry factor where there is one."""

    entry: str
    passport: Passport
    outside: tuple[Outside, ...]
    coefficient: float | None = None


class Beside(Struct, frozen=True):
    """What a branch's share in the loss of the straight run rests on: its uncertain term, and where it is from."""

    term: str
    passport: Passport


class Making(NamedTuple):
    """What a run says of how it is made, in SI; fields as of the wire's run and its hood.

    `length` is its own where it says where a change of bore stands; else it only tells whether there is any.
    """

    diameter: float | str
    length: float
    duct: str | None
    roughness: float | str | None
    stretch: float | str | None
    friction_multiplier: float | None
    power_law: WirePowerLaw | None
    fittings: tuple[RunFitting, ...]
    has_hood: bool
    entry: Entry | None
    port_diameter: float | str | None
    port_coefficient: float | None
    preset: Preset


class Found(Struct):
    """What was gathered so far: pieces and faults, and the preset in which faults tell their limits.

    Paths are within the run, or the piece after the fan, whose pieces are gathered (`placed`).
    """

    pieces: list[Piece] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    junctions: list[Junction] = field(default_factory=list)
    beside: list[Beside] = field(default_factory=list)
    preset: str = "us"

    def fault(self, path: str, code: str, detail: str) -> None:
        """Add a fault."""
        self.faults.append(Fault(path=path, code=code, detail=detail))


def placed(faults: Iterable[Fault], path: str) -> list[Fault]:
    """Return faults of a part of the document whose paths are within it, with their paths in the document."""
    return [structs.replace(fault, path=below(path, fault.path)) for fault in faults]


def nearest_fault(path: str, error: UnknownWordError) -> Fault:
    """Return the fault of a word that the catalogue does not have, with its nearest words."""
    near = f"; nearest: {', '.join(error.nearest)}" if error.nearest else f"; it has {', '.join(error.known)}"
    detail = f"the catalogue has no {error.kind} {error.word!r}{near}"
    return Fault(path=path, code="unknown-word", detail=detail, example=next(iter(error.nearest), None))


@lru_cache(MOST_KEPT)
def loss_of(fitting: Struct, bore: float) -> Loss:
    """Return the catalogue's loss of a fitting or an entry, in SI, in a bore [m]; equal pieces are asked for once.

    Raises:
        UnknownWordError, MissingParameterError, OutsideTableError: as the catalogue does.
    """
    return catalogue.fitting_loss(tag(fitting), parameters(fitting), bore)


def ask(found: Found, path: str, question: Callable[[], Loss], of: object = None) -> Loss | None:
    """Ask the catalogue for a loss, or note why it has none: at its own field where `of`, what stands at path, has it.

    Args:
        found: gathers the fault.
        path: of the part.
        question: raises as the catalogue does.
        of: the part; None where the parameters are worked out from elsewhere.
    """
    try:
        return question()
    except _UNANSWERED as error:
        _note(found, path, error, of)
    return None


def _note(
    found: Found, path: str, error: UnknownWordError | OutsideTableError | MissingParameterError, of: object
) -> None:
    """Note why the catalogue has no loss; arguments as of `ask`."""
    if isinstance(error, UnknownWordError):
        found.faults.append(nearest_fault(path, error))
    elif isinstance(error, OutsideTableError):
        at = below(path, error.name) if hasattr(of, error.name) else path
        found.fault(at, "outside-range", f"{error.name} {must_be(error, found.preset)}")
    else:
        found.fault(path, "parameter-missing", f"this type needs {error.args[0]}")


def _stated(found: Found, path: str, of: Struct, bore: float) -> Loss | None:
    """Return the catalogue's loss of a fitting or an entry as it stands at a path, or note why it has none."""
    try:
        return loss_of(of, bore)
    except _UNANSWERED as error:
        _note(found, path, error, of)
    return None


def add(found: Found, part: Part, path: str, kind: str, bore: float, loss: Loss, count: int = 1) -> None:
    """Add a piece."""
    found.pieces.append(Piece(part, path, kind, loss.coefficient, bore, count, loss.entry, loss.passport, loss.outside))


def parameters(fitting: object) -> dict[str, float | str]:
    """Return a fitting's parameters by name, those left out left out."""
    values = structs.asdict(fitting)  # type: ignore[arg-type]  # every wire fitting is a Struct
    return {name: value for name, value in values.items() if value is not None and name not in NO_PARAMETERS}


def tag(fitting: object) -> str:
    """Return the `type` by which the wire tells a struct apart."""
    return str(type(fitting).__struct_config__.tag)  # type: ignore[attr-defined]  # every wire fitting is a Struct


def length_of(run: Run | DischargePiece | Making) -> float:
    """Return a run's length, m; 0 where it has none yet, which is a fault of its own."""
    return 0.0 if run.length is None else float(run.length)


def course(found: Found, run: Run | DischargePiece | Making) -> Course:
    """Return a run's duct by its bores: changes of bore stand first or last in the run, or where they say.

    Args:
        found: gathers a change that does not say where it stands.
        run: in SI.
    """
    whole = length_of(run)
    if not any(isinstance(fitting, CHANGES) for fitting in run.fittings):
        part = DuctPart(float(run.diameter), whole, "diameter")
        return Course((part,), (0,) * len(run.fittings), (0,))
    parts: list[DuctPart] = []
    numbers: list[int] = []
    bore, at, begun, passed = float(run.diameter), "diameter", 0.0, 0
    begins: list[int] = []
    least = NO_LENGTH * max(whole, 1.0)
    for index, fitting in enumerate(run.fittings):
        numbers.append(len(parts))
        if not isinstance(fitting, CHANGES):
            continue
        place = _place(found, fitting, f"fittings[{index}]", (index, len(run.fittings)), (begun, whole))
        closes = whole <= least and 0 < index == len(run.fittings) - 1  # of no duct the bore is that before it
        if place - begun > least or (closes and not parts):
            parts.append(DuctPart(bore, place - begun, at))
            begins.append(passed)
            begun = place
        passed = index + 1
        bore, at = float(fitting.downstream_diameter), f"fittings[{index}].downstream_diameter"
    if whole - begun > least or not parts:
        parts.append(DuctPart(bore, whole - begun, at))
        begins.append(passed)
    return Course(tuple(parts), tuple(min(number, len(parts) - 1) for number in numbers), tuple(begins))


def _place(
    found: Found, fitting: Taper | AbruptChange, path: str, turn: tuple[int, int], reach: tuple[float, float]
) -> float:
    """Return the length of duct before a change of bore, m: as given, 0 for the run's first fitting, all for its last.

    Args:
        found: gathers a change between lengths of duct that does not say where it is.
        fitting: the change.
        path: of it.
        turn: number of the fitting in its run, and how many there are.
        reach: where the part begins that it ends, and the run's whole length, m.
    """
    (index, count), (begun, whole) = turn, reach
    if fitting.at is not None:
        place = float(fitting.at)
        if not begun - NO_LENGTH <= place <= whole * (1.0 + NO_LENGTH) + NO_LENGTH:
            detail = "changes of bore follow one another, `at` from 0 to the run's length"
            found.fault(f"{path}.at", "change-outside-run", detail)
        return min(max(place, begun), whole)
    if index == 0:
        return 0.0
    if index < count - 1 and whole > 0.0:
        detail = "a change of bore between other fittings needs `at`, the length of duct before it"
        found.fault(f"{path}.at", "change-not-placed", detail)
    return whole if index == count - 1 else begun


def fittings(found: Found, run: Run | DischargePiece | Making, along: Course, *, hose: bool) -> float:
    """Add every fitting in the direction of flow; return the bore after the last one, m.

    Args:
        found: gathers them.
        run: whose fittings they are.
        along: its duct.
        hose: whether that is a hose.
    """
    bore = float(run.diameter)
    if not run.fittings:
        return bore
    for index, fitting in enumerate(run.fittings):
        before = len(found.pieces)
        bore = _fitting(found, fitting, f"fittings[{index}]", bore, hose=hose)
        number = along.of_fitting[index]
        if number > 0:
            found.pieces[before:] = [structs.replace(piece, duct_part=number) for piece in found.pieces[before:]]
    return bore


def _fitting(found: Found, fitting: DischargeFitting, here: str, bore: float, *, hose: bool) -> float:
    """Add one fitting; return the bore after it, m."""
    kind = tag(fitting)
    if hose and isinstance(fitting, _TURNS):
        found.fault(here, "elbow-in-hose", "a hose takes `hose-bend`; elbow tables are for stiff duct")
    elif isinstance(fitting, HoseBend) and not hose:
        found.fault(here, "hose-bend-in-rigid-duct", "`hose-bend` stands in a hose; use `elbow`")
    elif isinstance(fitting, CHANGES):
        return _change(found, fitting, here, bore)
    elif kind == "known-coefficient":
        count = fitting.count  # type: ignore[union-attr]  # the tag says which
        own = float(fitting.coefficient)  # type: ignore[union-attr, arg-type]
        found.pieces.append(Piece("fitting", here, "known-coefficient", own, bore, count))
    elif kind == "slide-gate":
        _set_gate(found, fitting, here, bore)
    elif (given := getattr(fitting, "coefficient", None)) is not None:
        found.pieces.append(Piece("fitting", here, kind, float(given), bore))
    else:
        loss = _stated(found, here, fitting, bore)
        if loss is not None:
            add(found, "fitting", here, kind, bore, loss, getattr(fitting, "count", 1))
    return bore


def _set_gate(found: Found, fitting: object, path: str, bore: float) -> None:
    """Add a gate that stays as it is set; shut for good it would cut the run off."""
    opening = float(fitting.opening)  # type: ignore[attr-defined]  # a SlideGateFitting
    if is_shut(opening):
        found.fault(f"{path}.opening", "outside-range", f"a fitting's gate is at least {SMALLEST_OPENING:g} open")
        return
    loss = ask(found, path, lambda: catalogue.gate_loss(opening), fitting)
    if loss is not None:
        add(found, "fitting", path, "slide-gate", bore, loss)


def _change(found: Found, fitting: Taper | AbruptChange, path: str, bore: float) -> float:
    """Add a change of bore; it must begin at the bore that arrives."""
    upstream, downstream = float(fitting.upstream_diameter), float(fitting.downstream_diameter)
    if abs(upstream - bore) > 1.0e-6 * bore:
        found.fault(
            f"{path}.upstream_diameter",
            "taper-does-not-fit",
            "a taper begins at the diameter that arrives there",
        )
        return downstream
    if fitting.coefficient is not None:
        found.pieces.append(Piece("fitting", path, tag(fitting), fitting.coefficient, min(upstream, downstream)))
        return downstream
    loss = _stated(found, path, fitting, bore)
    if loss is not None:
        add(found, "fitting", path, tag(fitting), min(upstream, downstream), loss)
    return downstream


def hood(found: Found, own: Hood | Making, bore: float) -> None:
    """Add the entry and the change from the port to the run."""
    port = bore if own.port_diameter is None else float(own.port_diameter)
    if own.entry is not None:
        _entry(found, own.entry, "hood.entry", port)
    at, coefficient = "hood.port_diameter", own.port_coefficient
    if abs(port - bore) <= 1.0e-9 * bore:
        return
    if coefficient is not None:
        found.pieces.append(Piece("port", at, "abrupt-change", coefficient, min(port, bore)))
    else:
        loss = ask(found, at, lambda: catalogue.change_of_size(port, bore, None))
        if loss is not None:
            add(found, "port", at, "abrupt-change", min(port, bore), loss)


def _entry(found: Found, entry: Entry, path: str, port: float) -> None:
    """Add how air enters a port of a bore, m."""
    if isinstance(entry, KnownEntry):
        found.pieces.append(Piece("entry", path, "known-coefficient", entry.coefficient, port))
        return
    loss = _stated(found, path, entry, port)
    if loss is not None:
        add(found, "entry", path, tag(entry), port, loss)


class Wall(Struct, frozen=True, dict=True):
    """A run's roughness, its power law, the multiplier of a slack hose's friction, and what they rest on."""

    roughness: float
    duct: Duct | None = None
    entry: str = ""
    passport: Passport | None = None
    multiplier: float = 1.0
    multiplier_entry: str = ""
    multiplier_passport: Passport | None = None
    outside: tuple[Outside, ...] = ()
    assumed_stretch: float | None = None
    power_law: PowerLaw | None = None

    @property
    def power_law_passport(self) -> Passport | None:
        """Where the power law's constants come from; None where the caller gave them."""
        known = self.duct is not None and self.power_law is self.duct.power_law
        return self.duct.power_law_passport if self.duct is not None and known else None

    @cached_property
    def origins(self) -> int:
        """Where its friction comes from, as `sources.bits`."""
        return sources.bits_of(self.passport, self.multiplier_passport)

    @cached_property
    def power_law_origins(self) -> int:
        """Where its friction comes from by the power law, as `sources.bits`."""
        own = self.passport if self.power_law is None else self.power_law_passport
        return sources.bits_of(own, self.multiplier_passport)


class Walled(NamedTuple):
    """What a run says of its wall, in SI; fields as of the wire's run."""

    duct: str | None
    roughness: float | str | None
    stretch: float | str | None
    friction_multiplier: float | None
    power_law: WirePowerLaw | None
    has_length: bool


def wall(found: Found, run: Run | DischargePiece | Making, bore: float) -> Wall:
    """Return the roughness of a run's wall and the factor on its friction, or note why there is none."""
    said = Walled(run.duct, run.roughness, run.stretch, run.friction_multiplier, run.power_law, length_of(run) > 0.0)
    own, faults = _resolved(said, bore)
    found.faults += faults
    return own


@lru_cache(MOST_KEPT)
def _resolved(said: Walled, bore: float) -> tuple[Wall, tuple[Fault, ...]]:
    """Return a wall and what is wrong with it; equal walls are resolved once."""
    found = Found()
    own = _wall(found, said, bore)
    law = own.duct.power_law if own.duct is not None else None
    if said.power_law is not None:
        law = PowerLaw(said.power_law.scale, said.power_law.velocity_exponent, said.power_law.flow_exponent)
    multiplier = own.multiplier * (said.friction_multiplier or 1.0)
    return structs.replace(own, multiplier=multiplier, power_law=law), tuple(found.faults)


def stretch_of(wall: Wall, run: Run | DischargePiece) -> float:
    """Return the share of full extension to which a hose is pulled; 1 for stiff duct."""
    if run.stretch is not None:
        return float(run.stretch)
    if wall.duct is not None and wall.duct.kind == "hose" and wall.duct.typical_stretch is not None:
        return wall.duct.typical_stretch
    return 1.0


def needs_power_law(found: Found, run: Run | DischargePiece, own: Wall) -> None:
    """Note a run for whose wall no constants of the power law are published."""
    published = own.power_law is not None and run.roughness is None
    if length_of(run) > 0.0 and run.power_law is None and not published:
        found.fault("duct", "power-law-not-published", "no power-law constants are published for this duct")


def _wall(found: Found, said: Walled, bore: float) -> Wall:
    """Return the wall by the duct's word, its stretch and the caller's own roughness."""
    own = None if said.roughness is None else float(said.roughness)
    if said.duct is None:
        if own is None and said.has_length:
            found.fault("", "duct-missing", "a run needs `duct`, a word of the catalogue, or `roughness`")
        if said.stretch is not None:
            found.fault("stretch", "stretch-without-hose", "`stretch` goes with a hose named by `duct`")
        return Wall(own or 0.0)
    try:
        duct = catalogue.duct(said.duct)
    except UnknownWordError as error:
        found.faults.append(nearest_fault("duct", error))
        return Wall(own or 0.0)
    known = Wall(own, duct) if own is not None else Wall(duct.roughness, duct, f"duct/{duct.id}", duct.passport)
    if duct.kind == "hose":
        return known if own is not None else _hose(found, said.stretch, duct, known, bore)
    if said.stretch is not None:
        found.fault("stretch", "stretch-without-hose", f"{duct.id} is no hose")
    return known


def _hose(found: Found, said: float | str | None, duct: Duct, known: Wall, bore: float) -> Wall:
    """Return a hose's wall at its stretch; a roughness of the caller's own is taken as it is, slack included."""
    assumed = duct.typical_stretch if said is None else None
    stretch = assumed if said is None else float(said)
    if stretch is None:
        found.fault("stretch", "parameter-missing", "this hose needs `stretch`")
        return known
    try:
        slack = catalogue.hose_slack(duct, stretch, bore)
    except OutsideTableError as error:
        found.fault("stretch", "outside-range", f"{error.low:g} to {error.high:g}")
        return known
    return structs.replace(
        known,
        multiplier=slack.multiplier,
        multiplier_entry=slack.entry,
        multiplier_passport=slack.passport,
        outside=slack.outside,
        assumed_stretch=assumed,
    )
