"""Findings of the tree's shape: what a person could build better, tried by the engine where there is a fan."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any, Final, NamedTuple

from msgspec import structs

from airbough.wire.answer import (
    Change,
    Finding,
    Suggestion,
)
from airbough.wire.fitting import (
    AbruptChange,
    Elbow,
    ElbowPair,
)
from airbough.wire.quantity import Preset
from airbough.wire.tree import Branch
from airbough_service import catalogue
from airbough_service.catalogue.checks import check
from airbough_service.core import deadline
from airbough_service.core.limits import above, below, most_held
from airbough_service.judging import notes, path_findings
from airbough_service.judging.retrial import Bench, Changed, Gain, Proposal, Swap
from airbough_service.shop import (
    junction_laws,
    pieces,
)
from airbough_service.shop.pieces import (
    Found,
    Piece,
    Pieces,
)
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.shop.tapers import usual_length
from airbough_service.solving.grades import narrows
from airbough_service.terms import units
from airbough_service.terms.finding import (
    finding,
    machine_at,
    show,
)

RADIUS_FIXED: Final = ("adjustable", "mitered")  # constructions whose published loss does not go by a radius
MOST_KEPT: Final = 2048  # elbows and changes of bore of which it is remembered what would ease them


def shape(bench: Bench) -> list[Finding]:
    """Return every finding of the tree's shape."""
    shop = bench.shop
    out: list[Finding | Proposal] = []
    unsaid, special = list[tuple[ShopRun, int]](), list[ShopRun]()
    deadline.check()
    square, power_law = most_held(check("square-tee").value), shop.request.model.friction == "power-law"
    every = bench.told or (None,) * len(shop.runs)
    for run, parent, told in zip(shop.runs, shop.shape.parents, every, strict=True):
        asked = run.run
        look: Look = run.pieces.__dict__.get("look") or _look(run)
        if parent >= 0 and shop.runs[parent].start < run.end:
            out += narrower(shop, run)
        if look is not _NOTHING:
            out += turns(bench, run, look.easings) if look.easings else ()
            out += abrupt(bench, run) if look.abrupt else ()
        if type(asked.join) is Branch and float(asked.join.angle) > square:
            out.append(square_tee(bench, run, asked.join))
        if asked.hood is not None and told is not None and not told.idle:
            out += port(bench, run)
        if look is not _NOTHING:
            unsaid += [(run, number) for number in look.unsaid]
            special += [run] if look.special else ()
        if look.remarks or power_law:
            out += notes.of_run(shop, run, told)
    return bench.findings(out) + notes.of_tree(shop, unsaid, special) + path_findings.of_tree(shop)


def narrower(shop: Shop, run: ShopRun) -> list[Finding]:
    """Return the finding of a run that flows into a narrower one."""
    parent = shop.shape.parents[run.index]
    if parent < 0 or not narrows(run, shop.runs[parent]):
        return []
    into, preset = shop.runs[parent], shop.request.units
    return [
        finding(
            preset,
            "narrower-than-upstream",
            f"{into.id} is {show(preset, 'diameter', into.start)} wide, narrower than {run.id} that flows into it; "
            "chips jam where a duct narrows",
            at=f"runs[{parent}].diameter",
            run=into.id,
            quantity="diameter",
            kind="diameter",
            value=into.start,
            minimum=run.end,
            suggestion=Suggestion(text=f"at least {show(preset, 'diameter', run.end)} from here to the collector"),
            source="common-practice",
        )
    ]


@dataclass(frozen=True, slots=True)
class Turn:
    """What could make a turn in place of what does.

    Attributes:
        kind: its type.
        value: it as it would stand in the document.
        loss: of it.
        bought: what is bought for it, for one turn.
    """

    kind: str
    value: dict[str, float | str]
    loss: catalogue.Loss
    bought: str


@dataclass(frozen=True, slots=True)
class Easing:
    """One way to ease an elbow, with the words on it.

    Attributes:
        code: of the finding.
        turn: what could make the turn.
        before, after: the message, around the run's id.
    """

    code: str
    turn: Turn
    before: str
    after: str


class Eased(NamedTuple):
    """An elbow of a run eased in one way.

    Attributes:
        number: of the elbow among the run's pieces.
        way: how.
        terms: what the run's pieces then lose, as `Pieces.terms_with`.
    """

    number: int
    way: Easing
    terms: bytes


class Look(NamedTuple):
    """What there may be to say of a run by how it is made.

    Attributes:
        easings: each way worth telling to ease an elbow.
        abrupt: whether its bore changes without a taper.
        remarks: whether there may be a remark on it.
        unsaid: its turns whose construction was not given, by number.
        special: whether its duct is a hose, or does not carry charge away.
    """

    easings: tuple[Eased, ...] = ()
    abrupt: bool = False
    remarks: bool = False
    unsaid: tuple[int, ...] = ()
    special: bool = False


_NOTHING: Final = Look()


def _look(run: ShopRun) -> Look:
    """Return what there may be to say of a run; kept with its pieces, which runs made alike have in common."""
    look = Look(
        tuple(_easings(run)),
        run.pieces.together.abrupt,
        notes.worth_a_look(run),
        notes.unsaid(run),
        notes.special(run),
    )
    look = _NOTHING if look == _NOTHING else look
    run.pieces.__dict__["look"] = look
    return look


def turns(bench: Bench, run: ShopRun, easings: tuple[Eased, ...]) -> list[Proposal]:
    """Return what would ease each sharp turn: two elbows of its own kind, and, by its own name, another kind."""
    out, preset = list[Proposal](), bench.shop.request.units
    for number, way, terms in easings:
        piece = run.pieces[number]
        trial = bench.trial(run.index, Swap(run, number, way.turn.kind, way.turn.loss, terms))
        out.append(Proposal(trial, partial(_turn, preset, run, run.at(piece.at), piece, way)))
    return out


def _easings(run: ShopRun) -> Iterator[Eased]:
    """Yield each way worth telling to ease an elbow."""
    for number, fitting in enumerate(run.run.fittings):
        if type(fitting) is Elbow:
            at = f"fittings[{number}]"
            for place in [place for place, piece in enumerate(run.pieces) if piece.at == at][:1]:
                piece = run.pieces[place]
                for way in easing(fitting, piece.entry, piece.coefficient, piece.bore):
                    yield Eased(place, way, run.pieces.terms_with(place, way.turn.loss.coefficient))


@lru_cache(MOST_KEPT)
def easing(fitting: Elbow, entry: str, coefficient: float, bore: float) -> tuple[Easing, ...]:
    """Return each way worth telling to ease an elbow of a catalogue's entry and coefficient in a bore [m]."""
    if below(float(fitting.angle), check("sharp-turn").value):
        return ()
    kind, worth = entry.split("/")[1], check("turn-worth-easing").value
    ways = (("sharp-turn", _parted(fitting, kind, bore)), ("smoother-elbow", _smoother(fitting, kind, bore)))
    before = f"the turn of {float(fitting.angle):g} deg in "
    after = f" ({kind}) loses {coefficient:.2f} velocity pressures; "
    return tuple(
        Easing(
            code,
            turn,
            before,
            f"{after}{turn.bought}: {turn.loss.coefficient:.2f}",
        )
        for code, turn in ways
        if turn is not None and coefficient - turn.loss.coefficient >= worth
    )


def _of(fitting: Elbow | ElbowPair, bore: float, bought: str) -> Turn | None:
    """Return a turn with its loss; None where the catalogue does not answer it."""
    kind, values = pieces.tag(fitting), pieces.parameters(fitting)
    loss = pieces.ask(Found(), "", lambda: catalogue.fitting_loss(kind, values, bore))
    if loss is None:
        return None
    value: dict[str, float | str] = {"type": kind, **values}
    if fitting.count > 1:
        value["count"] = fitting.count
    return Turn(kind, value, loss, bought)


def _parted(fitting: Elbow, kind: str, bore: float) -> Turn | None:
    """Return two elbows of half the angle, of the same construction and radius, with a spacer."""
    half = f"{float(fitting.angle) / 2.0:g} deg"
    pair = ElbowPair(
        angle=fitting.angle,
        radius_ratio=fitting.radius_ratio,
        construction=fitting.construction,
        spacer_ratio=check("elbow-spacer").value,
        count=fitting.count,
    )
    apart = f"{pair.spacer_ratio:g} diameter{'' if pair.spacer_ratio == 1.0 else 's'}"
    return _of(pair, bore, f"two {kind} elbows of {half} with a spacer {apart} long")


def _smoother(fitting: Elbow, kind: str, bore: float) -> Turn | None:
    """Return the best single elbow of a wider radius in its own construction, or of a smoother construction."""
    gentle = check("gentle-radius").value
    own = fitting.radius_ratio if fitting.radius_ratio is not None else gentle
    radius = max(own, gentle)
    words = [kind] if own < gentle and kind not in RADIUS_FIXED else []
    smoother = {"mitered": "five-piece", "adjustable": "smooth"}.get(kind)
    words += [] if smoother is None else [smoother]
    found = [
        _of(
            structs.replace(fitting, construction=word, radius_ratio=radius),
            bore,
            f"one {word} elbow of {float(fitting.angle):g} deg, centreline radius {radius:g} diameters",
        )
        for word in words
    ]
    known = [turn for turn in found if turn is not None]
    return min(known, key=lambda turn: turn.loss.coefficient, default=None)


def _turn(preset: Preset, run: ShopRun, at: str, piece: Piece, way: Easing, gain: Gain) -> Finding:
    """Return the finding of one sharp turn."""
    turn = way.turn
    return finding(
        preset,
        way.code,
        f"{way.before}{run.run.id}{way.after}",
        at=at,
        run=run.run.id,
        quantity="coefficient",
        value=piece.coefficient,
        maximum=turn.loss.coefficient,
        suggestion=_suggestion(turn.bought, at, turn.value.copy, gain),
        source=turn.loss.passport.source,
    )


def _suggestion(text: str, path: str, value: Callable[[], Any], gain: Gain) -> Suggestion:
    """Return a suggestion; its change is given only where the engine has tried it and no open hood starves by it."""
    if gain.starved is not None:
        return Suggestion(text=f"tried, but it takes {gain.starved} below its design flow: balance the gates first")
    if gain.values is None:
        return Suggestion(text=text)
    return Suggestion(text=text, changes=(Change(path=path, value=value()),), gain=gain.values)


def abrupt(bench: Bench, run: ShopRun) -> list[Proposal]:
    """Return a finding for each change of bore without a taper."""
    shop, out = bench.shop, []
    for number, piece in enumerate(run.pieces):
        if piece.type != "abrupt-change" or piece.part not in ("change", "fitting"):
            continue
        if piece.part == "change":
            bores = run.end, shop.runs[shop.shape.parents[run.index]].start
        else:
            fitting = run.run.fittings[int(piece.at.rsplit("[", 1)[1][:-1])]
            assert isinstance(fitting, AbruptChange)
            bores = float(fitting.upstream_diameter), float(fitting.downstream_diameter)
        out.append(_taper(bench, run, number, *bores))
    return out


def _taper(bench: Bench, run: ShopRun, number: int, upstream: float, downstream: float) -> Proposal:
    """Return the finding of one abrupt change, by its number among a run's pieces, and the taper that would fix it."""
    preset, piece = bench.shop.request.units, run.pieces[number]
    at_join = piece.part == "change"
    length, loss = tapered(upstream, downstream)

    def written(gain: Gain) -> Finding:
        told, at = units.value("diameter", length, preset), run.at(piece.at)
        path, value = f"{at}.taper_length", told
        if not at_join:
            path = at
            value = {  # type: ignore[assignment]
                "type": "taper",
                "upstream_diameter": units.value("diameter", upstream, preset),
                "downstream_diameter": units.value("diameter", downstream, preset),
                "length": told,
                **_placed(bench, run, piece),
            }
        elif run.run.join is None:
            path, value = run.at("join"), {"type": "straight", "taper_length": told}  # type: ignore[assignment]
        return finding(
            preset,
            "abrupt-change",
            f"{run.id} changes from {show(preset, 'diameter', upstream)} to {show(preset, 'diameter', downstream)} "
            "without a taper",
            at=at,
            run=run.id,
            quantity="coefficient",
            value=piece.coefficient,
            maximum=loss.coefficient,
            suggestion=_suggestion(f"a taper {show(preset, 'diameter', length)} long", path, lambda: value, gain),
            source=loss.passport.source,
        )

    terms = run.pieces.terms_with(number, loss.coefficient)
    return Proposal(bench.trial(run.index, Swap(run, number, "taper", loss, terms)), written)


@lru_cache(MOST_KEPT)
def tapered(upstream: float, downstream: float) -> tuple[float, catalogue.Loss]:
    """Return the length [m] and the loss of the taper that is advised in place of an abrupt change of bore [m]."""
    length = usual_length(upstream, downstream)
    return length, catalogue.change_of_size(upstream, downstream, length)


def _placed(bench: Bench, run: ShopRun, piece: Piece) -> dict[str, float]:
    """Return where a change of bore inside a run says that it stands, in the preset."""
    fitting = run.run.fittings[int(piece.at.rsplit("[", 1)[1][:-1])]
    at = getattr(fitting, "at", None)
    return {} if at is None else {"at": units.value("length", float(at), bench.shop.request.units)}


def square_tee(bench: Bench, run: ShopRun, join: Branch) -> Proposal:
    """Return the finding of a branch that joins at or near a right angle."""
    shop, limit = bench.shop, check("square-tee").value
    preset, easy = shop.request.units, check("easy-branch").value
    arms = shop.shape.children[shop.shape.parents[run.index]]
    at = f"runs[{run.index}].join"

    def written(gain: Gain) -> Finding:
        return finding(
            preset,
            "square-tee",
            f"{run.id} joins at {float(join.angle):g} deg; a branch at {easy:g} deg or less keeps chips "
            "moving along the main",
            at=f"{at}.angle",
            run=run.id,
            quantity="angle",
            kind="angle",
            value=float(join.angle),
            maximum=limit,
            suggestion=_suggestion(f"a branch of {easy:g} deg", f"{at}.angle", lambda: easy, gain),
            source="common-practice",
        )

    trial = None
    law = shop.request.model.junctions
    if bench.tries and law != "none" and not (len(arms) == 2 and _symmetrical(shop, arms)):
        trial = bench.trial(run.index, _eased(shop, run))
    return Proposal(trial, written)


def _symmetrical(shop: Shop, arms: tuple[int, ...]) -> bool:
    """Return whether a junction is two branches of equal angle."""
    return all(isinstance(shop.runs[arm].run.join, Branch) for arm in arms)


def _eased(shop: Shop, run: ShopRun) -> Changed:
    """Return a branch as it would be at an easy angle."""
    easy, into = Branch(angle=check("easy-branch").value), shop.runs[shop.shape.parents[run.index]].start
    arm = junction_laws.arm_by(shop.request, shop.shape, run.index, easy, run.end, into)
    return {run.index: structs.replace(run, arm=arm)}


def port(bench: Bench, run: ShopRun) -> list[Proposal]:
    """Return the finding of an open machine whose port or inside takes most of the pressure on its path."""
    hood = run.run.hood
    assert hood is not None
    told, preset, limit = bench.told[run.index], bench.shop.request.units, check("port-bottleneck").value
    spent = told.entry_loss + told.port_loss + told.resistance_loss
    whole = -bench.told[bench.shop.shape.root(run.index)].total_pressure
    narrow = hood.port_diameter is not None and below(float(hood.port_diameter), run.start)
    if whole <= 0.0 or not above(spent, limit * whole):
        return []

    def written(gain: Gain) -> Finding:
        text = "ease the way through the machine: a wider or second port, fewer obstacles inside"
        return finding(
            preset,
            "machine-port-bottleneck",
            f"{machine_at(hood.machine, run.id)} itself takes {show(preset, 'pressure', spent)} of the "
            f"{show(preset, 'pressure', whole)} that the fan gives this path; a better duct can gain little",
            at=f"runs[{run.index}].hood" + (".port_diameter" if narrow else ""),
            run=run.id,
            quantity="share",
            value=spent / whole,
            maximum=limit,
            suggestion=_wider_port(preset, run, gain) if narrow else Suggestion(text=text),
            source="common-practice",
        )

    return [Proposal(bench.trial(run.index, _with_wide_port(run)) if narrow and bench.tries else None, written)]


def _with_wide_port(run: ShopRun) -> Changed:
    """Return the run with its machine's port as wide as the run."""
    assert run.run.hood is not None
    own = Found()
    hood = structs.replace(run.run.hood, port_diameter=None)
    asked = structs.replace(run.run, hood=hood)
    pieces.hood(own, hood, run.start)
    kept = [piece for piece in run.pieces if piece.part not in ("entry", "port")]
    return {run.index: structs.replace(run, run=asked, pieces=Pieces([*own.pieces, *kept]))}


def _wider_port(preset: Preset, run: ShopRun, gain: Gain) -> Suggestion:
    """Return the suggestion to open a narrow port to the run's bore."""
    text = f"open the machine's port to the run's diameter of {show(preset, 'diameter', run.start)}"
    value = units.value("diameter", run.start, preset)
    return _suggestion(text, run.at("hood.port_diameter"), lambda: value, gain)
