"""Disagreements that are known and not yet mended; each must still occur, so that a mended one leaves this list."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from agreement import oracle
from agreement.by_contract import CONTRACT
from agreement.comparing import Disagreement
from agreement.shops import Shop


@dataclass(frozen=True, slots=True)
class Known:
    """A disagreement that is known: what the service does against the contract, and which ones it covers."""

    what: str
    covers: Callable[[Disagreement, Shop], bool]


def _between(found: Disagreement, *tellers: str) -> bool:
    return any(found.one.startswith(teller) or found.other.startswith(teller) for teller in tellers)


def _leaking(shop: Shop, run: str) -> bool:
    own = next((one for one in shop.document["runs"] if one["id"] == run), {})
    return "leak" in own or "leakage_class" in own


def _first_hood_only(shop: Shop) -> bool:
    """Return whether some gate's machine_id stands on one hood upstream of it and another there has none."""
    model, runs = oracle.read(shop.document), {run["id"]: run for run in shop.document["runs"]}
    for gate in model.machine_of_gate:
        ids = {runs[hood]["hood"].get("machine_id") for hood in model.upstream[gate]}
        if "machine_id" in runs[gate]["gate"] and len(ids) == 2:
            return True
    return False


KNOWN = (
    Known(
        "sizing by the fan tells the flow at a leaking run's upstream end, every other question that at its downstream",
        lambda found, shop: found.fact[0] == "flow" and _between(found, "sizing, flows by fan"),
    ),
    Known(
        "a balance leaves leaks out, so the duty that it asks for is too small",
        lambda found, shop: found.fact[0] == "leaks enter" and _between(found, "balance"),
    ),
    Known(
        "a leaking run is judged at its downstream end, where its air is fastest",
        lambda found, shop: found.fact[0] == "too slow" and _between(found, CONTRACT) and _leaking(shop, found.fact[2]),
    ),
    Known(
        "the margin over the transport velocity likewise",
        lambda found, shop: found.fact[0] == "transport margin" and _between(found, CONTRACT) and _has_leaks(shop),
    ),
    Known(
        "a hood without machine_id does not take that of the gate downstream where another hood bears it",
        lambda found, shop: _between(found, CONTRACT) and _first_hood_only(shop),
    ),
    Known(
        "where so little leaks past shut gates that the curve begins above it, the danger that all gates are shut is "
        "not told",
        lambda found, shop: (
            found.fact[0] == "code"
            and found.fact[2] == "all-gates-shut"
            and shop.document["collector"]["fan"]["curve"][0]["flow"] > 0.0
        ),
    ),
    Known(
        "a double wye with a branch shut is not the wye that is left",
        lambda found, shop: "flow-ratio, 2 left" in found.other,
    ),
    Known(
        "under entry-angle a change of bore costs something where the branch is away, and nothing where it is shut",
        lambda found, shop: "entry-angle, 1 left, straight of another bore" in found.other,
    ),
)


def _has_leaks(shop: Shop) -> bool:
    return any(_leaking(shop, run["id"]) for run in shop.document["runs"])


REFUSING = ("sizing",)
"""Questions that refuse what the contract lets them be asked: sizing refuses a tree with a leakage_class."""


def unknown(found: Iterable[Disagreement], shop: Shop) -> list[Disagreement]:
    """Return the disagreements that no entry covers."""
    return [one for one in found if not any(known.covers(one, shop) for known in KNOWN)]


def covered(found: Iterable[Disagreement], shop: Shop) -> set[str]:
    """Return what is known of these."""
    return {known.what for one in found for known in KNOWN if known.covers(one, shop)}
