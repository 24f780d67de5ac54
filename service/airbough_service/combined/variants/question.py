"""POST /v1/trees/variants: one tree or outline and many changes of it, a row of figures and checks for each.

A tree is packed once where a variant changes no more than runs' own numbers, gates or the fan (`patches`), and such
variants are solved together (`block`); any other is solved from its whole document (`singly`), which is also what the
quick way must agree with.
"""

from __future__ import annotations

from typing import Final

import msgspec

from airbough.wire.operating_point import OperatingPointRequest
from airbough.wire.outline import OutlineRequest
from airbough.wire.tree import Tree
from airbough.wire.variants import VariantProblem, VariantsAnswer, VariantsRequest
from airbough_service import catalogue
from airbough_service.combined.variants import singly
from airbough_service.combined.variants.asked import Set, Variant, read
from airbough_service.combined.variants.block import Block, Ready
from airbough_service.combined.variants.checks import FINDINGS
from airbough_service.combined.variants.columns import Columns
from airbough_service.combined.variants.patches import Base, NotPatchedError, Patch
from airbough_service.core import deadline
from airbough_service.drafting.following import followed
from airbough_service.shop import collector as fans
from airbough_service.shop.shop import Shop, build, in_air
from airbough_service.solving import tree_answer
from airbough_service.solving.power import shaft_of
from airbough_service.terms.refusal import Refusal

_ROWS_AT_ONCE: Final = 100_000  # of packed trees, solved together: bounds the memory
_MOST_BASES: Final = 64  # trees that are kept packed while a request is answered


class _Family:
    """Variants that differ from one tree in their runs and gates alone, waiting to be solved together."""

    def __init__(self, base: Base, ready: Ready) -> None:
        self.base, self.ready = base, ready
        self.waiting: list[Patch] = []
        self.most = max(1, _ROWS_AT_ONCE // len(base.shop.tree.gate))


class _Answering:
    """One request's variants, answered one after the other."""

    def __init__(self, request: VariantsRequest) -> None:
        self.reading, self.variants = read(request)
        self.columns = Columns(len(self.variants), tuple(dict.fromkeys(request.only)), request.units)
        self.problems: dict[int, VariantProblem] = {}
        self._families: dict[object, _Family | None] = {}

    def answer_all(self) -> None:
        """Answer every variant."""
        for variant in self.variants:
            deadline.check()
            family, own = self._family(variant)
            if family is None:
                self._singly(variant)
                continue
            try:
                family.waiting.append(family.base.patch(variant.number, own, variant.state))
            except NotPatchedError:
                self._singly(variant)
            if len(family.waiting) >= family.most:
                self._solve(family)
        self._solve_all()

    def _singly(self, variant: Variant) -> None:
        deadline.check()
        found = singly.solve(self.reading, variant)
        if isinstance(found, VariantProblem):
            self.problems[variant.number] = found
        else:
            self.columns.take_one(variant.number, found)

    def _solve(self, family: _Family) -> None:
        if not family.waiting:
            return
        block = Block(family.base, family.ready, family.waiting)
        family.waiting = []
        self.columns.take(block)
        for number in block.left_over:
            self._singly(self.variants[number])

    def _solve_all(self) -> None:
        for family in self._families.values():
            if family is not None:
                self._solve(family)

    def _family(self, variant: Variant) -> tuple[_Family | None, tuple[Set, ...]]:
        """Return the packed tree that a variant differs from, and in what; None where there is none."""
        outline = isinstance(self.reading.document, OutlineRequest)
        of_runs = variant.tree if outline else tuple([one for one in variant.document if one[0].steps[0] == "runs"])
        whole = variant.document if outline else tuple([one for one in variant.document if one[0].steps[0] != "runs"])
        if any(len(goal.steps) < 3 for goal, _ in of_runs):  # a whole row, or all of them
            return None, ()
        return self._known(whole), of_runs

    def _known(self, whole: tuple[Set, ...]) -> _Family | None:
        """Return the packed tree of a document in which these values differ."""
        key = tuple([(goal.path, msgspec.json.encode(value, enc_hook=repr)) for goal, value in whole])
        if key not in self._families:
            family = self._packed(whole)
            if len(self._families) >= _MOST_BASES:
                self._solve_all()
                self._families.clear()
            self._families[key] = family
        return self._families[key]

    def _packed(self, whole: tuple[Set, ...]) -> _Family | None:
        """Return a tree packed; None where it has no answer, or is none that variants are patched of."""
        try:
            airs = tuple([one for one in whole if one[0].steps[0] == "air"])
            if airs and isinstance(self.reading.document, Tree):
                like = self._known(tuple([one for one in whole if one[0].steps[0] != "air"]))
                if like is not None:
                    return self._aired(like, singly.tree_of(self.reading, airs, ()))
            base = packed(singly.tree_of(self.reading, whole, ()))
        except Refusal:
            return None
        return None if base is None else _Family(base, Ready.of(base))

    @staticmethod
    def _aired(like: _Family, tree: Tree) -> _Family | None:
        """Return a family in the air of a tree; None where that is refused."""
        shop = in_air(like.base.shop, tree.air)
        base = None if shop is None else _based(shop)
        return None if base is None else _Family(base, like.ready)


def packed(tree: Tree) -> Base | None:
    """Return a tree packed; None where a run has several rows, or its fan may be crossed more than once.

    Raises:
        Refusal: with every fault of tree and fan.
    """
    fields = {name: getattr(tree, name) for name in Tree.__struct_fields__}
    request, _ = followed(OperatingPointRequest(**fields))
    return _based(build(request))


def _based(shop: Shop) -> Base | None:
    """Return a shop that variants are patched of; None as of `packed`."""
    fan = fans.build(shop)
    if shop.parted is not None or not fan.crosses_once:
        return None
    return Base(shop, fan, shaft_of(shop, fan))


def answer(request: VariantsRequest) -> VariantsAnswer:
    """Answer the question; the document is in SI, values of changes as written, columns of the answer in the preset.

    Raises:
        Refusal: with every fault of the changes.
    """
    work = _Answering(request)
    work.answer_all()
    document = work.reading.document
    return VariantsAnswer(
        engine=tree_answer.engine(document),
        units=work.columns.units,
        preset=request.units,
        names=tuple([variant.name for variant in work.variants]),
        columns=work.columns.columns,
        checks={name: tuple(holds) for name, holds in work.columns.checks.items()},
        problems={str(number): work.problems[number] for number in sorted(work.problems)},
        cautions=_cautions(work),
        name=document.name,
    )


def _cautions(work: _Answering) -> tuple[str, ...]:
    """Return the cautions of all answers about trees, and those of the findings that some variant has."""
    words = list(tree_answer.CAUTIONS)
    for check, code in FINDINGS.items():
        if False in work.columns.checks[check]:
            words += tree_answer.CAUTIONS_OF_FINDINGS.get(code, ())
    return tuple(catalogue.caution(word).text for word in dict.fromkeys(words))
