"""Findings of the machines at the hoods: unknown to the catalogue, of no given size, their flows from memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from airbough.wire.answer import Finding, Suggestion
from airbough.wire.quantity import Preset, printed
from airbough_service import catalogue
from airbough_service.catalogue import UnknownWordError
from airbough_service.shop.filling import Known
from airbough_service.shop.shop import Shop
from airbough_service.terms import units
from airbough_service.terms.finding import finding, machine_at, plain, rounded


def of(shop: Shop) -> list[Finding]:
    """Return what is to be said of a tree's machines."""
    preset, found = shop.request.units, list[Finding]()
    for run in shop.runs:
        if run.run.hood is not None and run.run.hood.machine is not None and run.index not in shop.hoods.known:
            hood, path = run.run.hood, f"runs[{run.index}].hood.machine"
            found += unknown(preset, run.run.hood.machine, path, run.id, without_flow=hood.flow is None)
    known = [
        (shop.hoods.known[index], f"runs[{index}].hood", _machine(shop, index))
        for index in shop.hoods.flows
        if index in shop.hoods.known
    ]
    return [*found, *of_known(preset, known)]


def _machine(shop: Shop, index: int) -> str:
    """Return the name of the machine at a hood."""
    return next(machine.name for machine in shop.machines.each if index in machine.hoods)


def of_known(preset: Preset, known: Iterable[tuple[Known, str, str]]) -> list[Finding]:
    """Return the findings of machines whose flow was filled in: each with its path and the caller's name of it."""
    flows = list(known)
    found = [item for own, path, run in flows for item in _beyond(preset, own, path, run)]
    guessed = [one for one in flows if one[0].why == "smallest"]
    remembered = [one for one in flows if not one[0].read]
    if guessed:
        found.append(_sizes(preset, guessed))
    if remembered:
        found.append(_from_memory(preset, remembered))
    return found


def unknown(preset: Preset, word: str, path: str, run: str, *, without_flow: bool) -> list[Finding]:
    """Return what is to be said of a machine that the catalogue does not have, with the nearest words."""
    try:
        catalogue.machine(word)
        near: tuple[str, ...] = ()
    except UnknownWordError as error:
        near = error.nearest
    text = "give its flow, entry and dust"
    if near:
        text = f"{text}, or name one of the catalogue: {', '.join(near)}"
    advice = Suggestion(text=text)
    message = f"the catalogue has no machine {word!r}; {run} is judged by what was stated of it"
    found = [finding(preset, "machine-unknown", message, at=path, run=run, suggestion=advice)]
    if without_flow:
        message = f"{run} has no design flow: none was given, and the catalogue has no machine {word!r}"
        found.append(finding(preset, "design-flow-unknown", message, at=path, run=run, suggestion=advice))
    return found


def _sizes(preset: Preset, guessed: list[tuple[Known, str, str]]) -> Finding:
    """Return one note of all machines that were given no size."""
    names = "; ".join(dict.fromkeys(f"{machine_at(own.machine.id, run)}: {own.size.size}" for own, _, run in guessed))
    goes_by = ", ".join(dict.fromkeys(plain(own.size.parameter) for own, _, _ in guessed))
    return finding(
        preset,
        "machine-size-assumed",
        f"no size was given, so the smallest listed was taken, of {names}",
        at=f"{guessed[0][1]}.size",
        run=guessed[0][2],
        suggestion=Suggestion(text=f"give its size ({goes_by}); larger machines need more air"),
    )


def _beyond(preset: Preset, own: Known, path: str, run: str) -> Iterator[Finding]:
    """Yield the finding of a size beyond the largest listed."""
    goes_by, title = plain(own.size.parameter), plain(own.machine.id)
    if own.why == "beyond" and own.given is not None and own.size.maximum is not None:
        given, most, unit = _shown(preset, own)
        yield finding(
            preset,
            "outside-correlation-range",
            f"{goes_by} of {given}{unit} of the {title} at {run} lies beyond the published {most}{unit}; the flow of "
            "the largest listed was taken and may be too little",
            at=f"{path}.size",
            run=run,
            quantity=own.size.parameter,
            kind=own.size.kind,
            value=own.given,
            maximum=own.size.maximum,
            suggestion=Suggestion(text="ask the maker for its exhaust flow and give that"),
            source=own.size.passport.source,
        )


def _shown(preset: Preset, own: Known) -> tuple[str, str, str]:
    """Return a size, the largest listed, and their unit, as texts."""
    kind, given, most = own.size.kind, own.given or 0.0, own.size.maximum or 0.0
    if kind is None:
        return rounded(given), rounded(most), ""
    told = [rounded(units.value(kind, number, preset)) for number in (given, most)]
    return told[0], told[1], f" {printed(units.unit(kind, preset))}"


def _from_memory(preset: Preset, flows: list[tuple[Known, str, str]]) -> Finding:
    """Return one note of all design flows that nobody read."""
    names = ", ".join(dict.fromkeys(machine_at(own.machine.id, run) for own, _, run in flows))
    spread = max(own.size.passport.spread for own, _, _ in flows)
    return finding(
        preset,
        "design-flow-from-memory",
        f"design flows that were filled in and not read in their documents, or are estimates: {names}; they may be off "
        f"by {100.0 * spread:.0f} %",
        at=f"{flows[0][1]}.flow",
        run=flows[0][2],
        quantity="spread",
        value=spread,
        suggestion=Suggestion(text="ask the makers for their exhaust flows and give those"),
        source=flows[0][0].size.passport.source,
    )
