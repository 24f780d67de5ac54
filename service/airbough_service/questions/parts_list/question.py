"""POST /v1/trees/parts-list: what to buy, how to cut it, and how each joint is made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from msgspec import structs

from airbough.wire.answer import (
    Finding,
    Suggestion,
)
from airbough.wire.parts_list import (
    PartsListAnswer,
    PartsListLine,
    PartsListRequest,
    PartsListSystem,
)
from airbough.wire.problem import Fault
from airbough_service.judging import notes
from airbough_service.questions.parts_list import findings
from airbough_service.questions.parts_list.bill import Bill
from airbough_service.questions.parts_list.cutting import (
    Cutting,
    cutting,
)
from airbough_service.questions.parts_list.joints import (
    Made,
    Supplies,
    made,
    supplies,
)
from airbough_service.questions.parts_list.joints import told as joints_told
from airbough_service.questions.parts_list.lines import (
    Wanted,
    lines,
    requirement,
    served_entries,
    total,
    wanted,
)
from airbough_service.questions.parts_list.needs import (
    Asking,
    RunNeeds,
    Told,
    counts_fittings,
    discharge_needs,
    run_needs,
)
from airbough_service.questions.parts_list.parts import Need
from airbough_service.questions.parts_list.plans import plans
from airbough_service.questions.parts_list.reducing import reduces
from airbough_service.questions.parts_list.rows import (
    Ends,
    Rows,
    rows,
    settle,
)
from airbough_service.questions.parts_list.rules import (
    Rules,
    rules,
)
from airbough_service.questions.parts_list.stock import (
    StockList,
    listed,
)
from airbough_service.questions.parts_list.table import table
from airbough_service.shop.shop import (
    Shop,
    build,
)
from airbough_service.shop.stock import Entry
from airbough_service.solving import tree_answer
from airbough_service.terms import sources
from airbough_service.terms.finding import (
    finding,
    ordered,
)
from airbough_service.terms.refusal import Refusal, no_run

_MOST_PARTS = 20000


@dataclass(frozen=True, slots=True)
class Job:
    """The whole job worked out, in SI."""

    shop: Shop
    rules: Rules
    stock: StockList
    runs: tuple[RunNeeds, ...]
    after: tuple[RunNeeds, ...]
    cut: Cutting
    placed: Rows
    joints: tuple[Made, ...]
    needs: dict[Need, Wanted]
    served: dict[Need, Entry[Any]]

    @property
    def missing(self) -> dict[Need, Wanted]:
        """What the stock's lists have not."""
        return {
            need: wanted
            for need, wanted in self.needs.items()
            if need not in self.served and not self.stock.untold(need)
        }


def answer(request: PartsListRequest) -> PartsListAnswer:
    """Answer the question in SI.

    Raises:
        Refusal: with every fault of the tree, else of the stock list and the stretches, each with its path.
    """
    job = _work(request)
    if request.stock is None:
        return _requirement_only(request, job)
    outlets = {index: need.bores[-1] for index, (need, _) in job.placed.junctions.items()}
    parts = supplies(job.joints, (*job.runs, *job.after), outlets, job.rules)
    currency = request.stock.currency
    bought = lines(job.needs, job.stock, job.cut, job.joints, parts, Bill(request.units, currency))
    price, without = total(bought, currency)
    cut = plans(job.cut, job.placed, job.joints, job.stock, job.rules, currency)
    joints = joints_told(job.joints, job.rules)
    preset = request.units
    found = [
        *_of_tree(request, job),
        *findings.of_stock(preset, job.missing),
        *findings.of_joints(preset, job.joints),
        *findings.of_plans(preset, cut),
        *findings.of_turning(preset, joints),
        *findings.of_shortage(preset, bought),
        *_unpriced(request, bought, without),
    ]
    whole = structs.replace(
        _empty(request, job, found, parts),
        lines=tuple(bought),
        cutting=cut,
        joints=joints,
        rules=job.rules.told,
        not_stocked=requirement(job.missing, job.served),
        price_missing=without,
    )
    complete = price is not None and not without and not job.missing
    system = structs.replace(whole.system, price=price, price_complete=complete, currency=currency)
    whole = structs.replace(whole, system=system)
    return structs.replace(whole, csv=table(whole, preset)) if request.csv else whole


def _work(request: PartsListRequest) -> Job:
    shop = build(request)
    _refuse_unanswered(request)
    faults: list[Fault] = []
    stock = listed(request.stock, request.units, faults)
    reducing = frozenset(index for index in range(len(shop.runs)) if reduces(shop, index, stock))
    asking = Asking(request.lengths == "centerline", stock.own_length, reducing)
    stretches = _stretches(request, shop, faults)
    runs = tuple(run_needs(shop, index, stretches.get(index), asking, faults) for index in range(len(shop.runs)))
    after = tuple(discharge_needs(shop, index, asking, faults) for index in range(len(shop.discharge)))
    if sum(len(run.parts) for run in (*runs, *after)) > _MOST_PARTS:
        faults.append(Fault(path="runs", code="too-many-pieces", detail=f"more than {_MOST_PARTS} fittings"))
    if faults:
        words_only = all(fault.code == "unknown-word" for fault in faults)
        raise Refusal("unknown-word" if words_only else "not-computable", faults)
    own = rules(request)
    parts = [part for run in (*runs, *after) for part in run.parts]
    cut = cutting([part for part in parts if part.straight is not None], stock, own)
    placed = rows(shop, runs, after, reducing, stock, cut, Ends(request.port_end, request.collector_end))
    settle(placed, cut)
    needs = wanted(parts, placed, [run.id for run in shop.runs])
    served = served_entries(needs, stock, cut)
    return Job(shop, own, stock, runs, after, cut, placed, tuple(made(placed)), needs, served)


def _refuse_unanswered(request: PartsListRequest) -> None:
    """Refuse what goes with flows: nothing flows here."""
    faults = [
        Fault(
            path=name,
            code="not-for-this-question",
            detail="a parts list computes no flow; ask operating-point or balance",
        )
        for name, asked in (("uncertainty", request.uncertainty is not None), ("explain", request.explain))
        if asked
    ]
    if faults:
        raise Refusal("not-computable", faults)


def _stretches(request: PartsListRequest, shop: Shop, faults: list[Fault]) -> dict[int, Told]:
    """Return the caller's stretches by run number."""
    numbers = {run.id: run.index for run in shop.runs}
    out: dict[int, Told] = {}
    for place, entry in enumerate(request.stretches):
        path = f"stretches[{place}]"
        index = numbers.get(entry.run)
        if index is None:
            faults.append(no_run(f"{path}.run", "dangling-run", entry.run, numbers))
        elif index in out:
            faults.append(Fault(path=f"{path}.run", code="duplicate-run", detail="this run already has stretches"))
        else:
            out[index] = Told(f"{path}.lengths", tuple(float(length) for length in entry.lengths))
    return out


def _of_tree(request: PartsListRequest, job: Job) -> list[Finding]:
    """Return what the tree itself gives: duct that does not conduct, hose whose stretch was assumed, untold places."""
    preset = job.shop.request.units
    hoses = [item for run in job.shop.runs for item in notes.stretch(job.shop, run)]
    return [
        *notes.nonconductive(job.shop, [run for run in job.shop.runs if notes.special(run)]),
        *hoses,
        *findings.of_needs(preset, (*job.runs, *job.after)),
        *findings.of_centrelines(preset, _counting_fittings(request, job)),
    ]


def _counting_fittings(request: PartsListRequest, job: Job) -> list[RunNeeds]:
    """Return the runs bought as straight duct whose length counts the fittings along it."""
    if request.lengths != "straight":
        return []
    told, own = {entry.run for entry in request.stretches}, job.stock.own_length
    pairs = zip(request.runs, job.runs, strict=True)
    return [needs for run, needs in pairs if run.id not in told and counts_fittings(run, needs, own)]


def _unpriced(request: PartsListRequest, bought: list[PartsListLine], without: tuple[str, ...]) -> list[Finding]:
    """Return the note that the sum is not the whole price, where there is a sum."""
    if not without or all(line.price is None for line in bought):
        return []
    message = f"{len(without)} lines have no price, so the sum is not the whole price"
    return [finding(request.units, "price-missing", message, quantity="lines", value=float(len(without)))]


def _requirement_only(request: PartsListRequest, job: Job) -> PartsListAnswer:
    """Answer without a stock list: what is required."""
    note = finding(
        request.units,
        "no-stock",
        "no stock list was given, so only what is required is listed: joints, cuts and small parts depend on it",
        suggestion=Suggestion(text="give the pieces with their ends, as your supplier sells them"),
    )
    found = [*_of_tree(request, job), note]
    whole = _empty(request, job, found, Supplies())
    return structs.replace(whole, csv=table(whole, request.units)) if request.csv else whole


def _empty(request: PartsListRequest, job: Job, found: list[Finding], parts: Supplies) -> PartsListAnswer:
    """Return the part of the answer that does not rest on the stock list, in SI."""
    straights = [part for run in (*job.runs, *job.after) for part in run.parts if part.straight is not None]
    joints = () if request.stock is None else job.joints
    hoses = [run.duct.stretch_passport for run in (*job.runs, *job.after) if run.duct is not None and run.hose_assumed]
    origins = sources.origins(*hoses, *(() if request.stock is None else job.rules.passports))
    return PartsListAnswer(
        engine=tree_answer.engine(request),
        units={},
        preset=request.units,
        air=job.shop.air,
        name=request.name,
        runs=(),
        hoods=(),
        system=PartsListSystem(
            duct_length=sum(part.straight or 0.0 for part in straights if not part.hose),
            hose_length=sum((part.straight or 0.0) / part.stretch for part in straights if part.hose),
            joints=len(joints),
            joints_holding=sum(joint.joint.holds for joint in joints),
            joints_not_judged=sum(joint.joint.kind == "not-judged" for joint in joints),
            hangers=sum(count for (use, _), count in parts.pieces.items() if use == "hanger"),
        ),
        requirement=requirement(job.needs, job.served),
        findings=ordered(found),
        sources=sources.told(origins),
        cautions=tree_answer.cautions(job.shop, found, ("ground-path",)),
        assumed=job.shop.assumed,
    )
