"""Findings of the tree's shape that nothing is tried for: ranges of sources, spacing, hose, sparks, charge."""

from __future__ import annotations

from typing import Final

from msgspec import structs

from airbough.wire.answer import (
    Finding,
    RunResult,
    Suggestion,
)
from airbough.wire.fitting import AbruptChange, Elbow, ElbowPair, Offset, Taper
from airbough.wire.quantity import printed
from airbough_service import catalogue
from airbough_service.catalogue import Duct
from airbough_service.core.limits import below
from airbough_service.judging import machine_findings
from airbough_service.shop.shop import (
    Shop,
    ShopRun,
)
from airbough_service.terms import assumed
from airbough_service.terms.finding import (
    finding,
    machine_at,
    plain,
    rounded,
    show,
)
from airbough_service.terms.out_of_range import in_preset

_CHANGES: Final = (Taper, AbruptChange)
_TURNS: Final = (Elbow, ElbowPair, Offset)


def worth_a_look(run: ShopRun) -> bool:
    """Return whether there may be a remark on a run by how it is made; by the power law there may be on any."""
    wall, pieces, fittings = run.wall, run.pieces.together, run.run.fittings
    return bool(
        pieces.turning > 1
        or pieces.outside
        or wall.outside
        or wall.assumed_stretch is not None
        or (len(fittings) == 1 and isinstance(fittings[0], _CHANGES))
    )


def of_run(shop: Shop, run: ShopRun, told: RunResult | None) -> list[Finding]:
    """Return the remarks on one run; `told` where its flow is known."""
    own = crowded(shop, run)
    if run.wall.outside or run.pieces.together.outside:
        own += outside(shop, run)
    if shop.request.model.friction == "power-law":
        own += beyond_power_law(shop, run, told)
    if run.wall.assumed_stretch is not None:
        own += stretch(shop, run)
    return own + place_of_change(shop, run) if len(run.run.fittings) == 1 else own


def of_tree(shop: Shop, unsaid: list[tuple[ShopRun, int]], special: list[ShopRun]) -> list[Finding]:
    """Return the remarks on the tree as a whole.

    Args:
        shop: the tree.
        unsaid: turns whose construction was not given, each by its run and its number among the fittings.
        special: the runs whose duct is `special`.
    """
    own = sparks(shop) + nonconductive(shop, special) + junctions(shop) + constructions(shop, unsaid)
    return own + hoses(shop, special) + machine_findings.of(shop)


def special(run: ShopRun) -> bool:
    """Return whether a run's duct is a hose, or does not carry charge away."""
    duct = run.wall.duct
    return duct is not None and (duct.kind == "hose" or not duct.conductive)


def unsaid(run: ShopRun) -> tuple[int, ...]:
    """Return the turns of a run whose construction was not given, by number."""
    return tuple(
        number
        for number, fitting in enumerate(run.run.fittings)
        if isinstance(fitting, _TURNS) and fitting.construction is None
    )


def crowded(shop: Shop, run: ShopRun) -> list[Finding]:
    """Return the finding of fittings that stand closer than the catalogue's spacing."""
    turning = run.pieces.together.turning
    if turning < 2:
        return []
    limit = catalogue.close_coupled_ratio()
    spacing = run.length / (turning + 1) / run.widest.bore
    if not below(spacing, limit):
        return []
    return [
        finding(
            shop.request.units,
            "close-coupled",
            f"{turning} fittings in {run.id} stand about {spacing:.1f} diameters apart; nearer than {limit:g} they "
            "disturb one another and the sum of their losses is rough",
            at=f"runs[{run.index}].fittings",
            run=run.id,
            quantity="spacing",
            value=spacing,
            minimum=limit,
            suggestion=Suggestion(text="leave straight duct between them, or give a measured coefficient"),
            source="common-practice",
        )
    ]


def outside(shop: Shop, run: ShopRun) -> list[Finding]:
    """Return a finding for each parameter beyond its published range."""
    places = [(piece.at, piece.outside, piece.passport) for piece in run.pieces if piece.outside]
    if run.wall.outside:
        places.append(("stretch", run.wall.outside, run.wall.multiplier_passport))
    return [_beyond(shop, run.at(at), run.id, beyond, origin) for at, list_, origin in places for beyond in list_]


def beyond_power_law(shop: Shop, run: ShopRun, told: RunResult | None) -> list[Finding]:
    """Return the finding of a velocity for which the power law's constants were not made."""
    if run.length <= 0.0:
        return []
    wall, origin = run.wall, run.wall.power_law_passport
    if wall.duct is None or origin is None or told is None or told.flow <= 0.0:
        return []
    found = catalogue.beyond(wall.duct.power_law_published, {"velocity": told.velocity})
    return [_beyond(shop, f"runs[{run.index}].duct", run.id, beyond, origin) for beyond in found]


def junctions(shop: Shop) -> list[Finding]:
    """Return a finding for each junction beyond the published range of its law."""
    out = []
    for run, joined in zip(shop.runs, shop.joined, strict=True):
        junction = joined.junction
        if junction is not None and junction.outside:
            at, origin = run.at("join"), junction.passport
            out += [_beyond(shop, at, run.id, beyond, origin) for beyond in junction.outside]
    return out


def _beyond(shop: Shop, at: str, run: str, beyond: catalogue.Outside, origin: catalogue.Passport | None) -> Finding:
    """Return the finding of one parameter, its numbers in the preset where it has a unit."""
    low, preset = beyond.value < beyond.low, shop.request.units
    value, unit = in_preset(beyond.parameter, beyond.value, preset)
    least, most = (
        in_preset(beyond.parameter, beyond.low, preset)[0],
        in_preset(beyond.parameter, beyond.high, preset)[0],
    )
    shown = f" {printed(unit)}" if unit else ""
    digits = 3 if rounded(value) not in (rounded(least), rounded(most)) else 5
    made = finding(
        preset,
        "outside-correlation-range",
        f"{plain(beyond.parameter)} of {rounded(value, digits)}{shown} at {run} lies beyond the published "
        f"{rounded(least, digits)} to {rounded(most, digits)}{shown}; the value is an extension of its source",
        at=at,
        run=run,
        quantity=beyond.parameter,
        value=value,
        minimum=least if low else None,
        maximum=None if low else most,
        suggestion=Suggestion(text="measure this part, or give a known coefficient for it"),
        source=None if origin is None else origin.source,
    )
    return structs.replace(made, unit=unit or None)


def stretch(shop: Shop, run: ShopRun) -> list[Finding]:
    """Return the note of a hose whose stretch was not given."""
    if run.wall.assumed_stretch is None or run.wall.duct is None:
        return []
    return [
        finding(
            shop.request.units,
            "stretch-assumed",
            assumed.stretch(run.wall.duct, run.wall.assumed_stretch, run.widest.bore, f"hose of {run.id}"),
            at=f"runs[{run.index}].stretch",
            run=run.id,
            quantity="stretch",
            value=run.wall.assumed_stretch,
            suggestion=Suggestion(text="say how far the hose is pulled; slack hose loses several times more"),
            source="common-practice",
        )
    ]


def hoses(shop: Shop, special: list[ShopRun]) -> list[Finding]:
    """Return one note for each make of hose, at its first run: what it loses against spiral duct, and how surely."""
    first: dict[str, tuple[ShopRun, Duct]] = {}
    for run in special:
        duct = run.wall.duct
        if duct is not None and duct.kind == "hose" and run.run.roughness is None and run.length > 0.0:
            first.setdefault(duct.id, (run, duct))
    out = []
    for run, duct in first.values():
        text, ratio = assumed.hose_range(duct, run.widest.bore, shop.density, float(shop.air.viscosity))
        out.append(
            finding(
                shop.request.units,
                "hose-range",
                text,
                at=f"runs[{run.index}].duct",
                run=run.id,
                quantity="friction_ratio",
                value=ratio,
                suggestion=Suggestion(text="keep hoses short; give a measured roughness where one is known"),
                source=duct.passport.source,
            )
        )
    return out


def place_of_change(shop: Shop, run: ShopRun) -> list[Finding]:
    """Return the note of a lone change of bore that does not say whether the run's duct lies before or after it."""
    if len(run.run.fittings) != 1:
        return []
    lone = run.run.fittings[0]
    if not isinstance(lone, _CHANGES) or lone.at is not None or run.length == 0.0:
        return []
    preset, at = shop.request.units, f"runs[{run.index}].fittings[0].at"
    whole = show(preset, "length", run.length)
    return [
        finding(
            preset,
            "change-place-assumed",
            f"the change of bore of {run.id} does not say where it stands; all {whole} of duct were taken to lie "
            f"after it, {show(preset, 'diameter', run.end)} wide",
            at=at,
            run=run.id,
            suggestion=Suggestion(text=f"give `at`, the length of duct before it: 0, or {whole} if it stands last"),
        )
    ]


def constructions(shop: Shop, unsaid: list[tuple[ShopRun, int]]) -> list[Finding]:
    """Return the note of elbows whose construction was not given, at the first of them."""
    if not unsaid:
        return []
    run, number = unsaid[0]
    return [
        finding(
            shop.request.units,
            "construction-assumed",
            assumed.construction(_bore_at(run, number), f"{len(unsaid)} turn{'s' if len(unsaid) > 1 else ''}"),
            at=f"runs[{run.index}].fittings[{number}].construction",
            run=run.id,
            suggestion=Suggestion(text="say how the elbows are made, such as adjustable ones that turn in your hands"),
            source="common-practice",
        )
    ]


def _bore_at(run: ShopRun, number: int) -> float:
    """Return the bore that a fitting stands in, m."""
    at = f"fittings[{number}]"
    return next((piece.bore for piece in run.pieces if piece.at == at), run.start)


def sparks(shop: Shop) -> list[Finding]:
    """Return the danger of a machine that throws sparks into a duct of wood dust."""
    out = []
    for index, known in shop.hoods.known.items():
        if not known.machine.sparks:
            continue
        run, hood = shop.runs[index], shop.runs[index].run.hood
        assert hood is not None
        out.append(
            finding(
                shop.request.units,
                "sparks-into-wood-dust",
                f"{machine_at(hood.machine, run.id)} throws sparks; it must not share a duct, filter or bin with wood "
                "dust",
                at=f"runs[{run.index}].hood.machine",
                run=run.id,
                suggestion=Suggestion(text="give it a collector of its own, made for metal dust"),
            )
        )
    return out


def nonconductive(shop: Shop, special: list[ShopRun]) -> list[Finding]:
    """Return one warning for each nonconductive construction, at its first run."""
    first: dict[str, ShopRun] = {}
    for run in special:
        duct = run.wall.duct
        if duct is not None and not duct.conductive:
            first.setdefault(duct.title, run)
    return [
        finding(
            shop.request.units,
            "nonconductive-duct",
            f"{name.split(',')[0]} does not carry charge away; moving dust charges it",
            at=f"runs[{run.index}].duct",
            run=run.id,
            suggestion=Suggestion(text=catalogue.caution("nonconductive-duct").text),
        )
        for name, run in first.items()
    ]
