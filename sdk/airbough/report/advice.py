"""The last page: the tried changes of a shop, by the air they gain and by what they cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from airbough.report.blocks import Block, Bullets, Chapter, Paragraph, Table
from airbough.report.buying import one_line
from airbough.report.words import bare, heading, money, percent
from airbough.wire.answer import Advice, TreeAnswer


def chapter(answer: TreeAnswer) -> Chapter | None:
    """Return the tried changes by the air they gain, the last page; None where none were asked for."""
    found = getattr(answer, "advice", None)
    if found is None:
        return None
    if not found:
        none = "No change that was tried brings more air without spoiling a check."
        return Chapter("What to change, by gain", [Paragraph(none)])
    rows = [
        (
            one.text,
            f"+{bare(one.flow_gained, answer.units.get('flow', ''))}",
            "" if one.share_before is None else percent(one.share_before),
            "" if one.share_after is None else percent(one.share_after),
        )
        for one in found
    ]
    told = "Each was tried by itself in this state of the gates; two together bring less than their sum."
    headings = ("change", heading("more air", answer.units, "flow"), "least served now", "then")
    whole: list[Block] = [Paragraph(told), Table(headings, rows)]
    return Chapter("What to change, by gain", [*whole, *_for_price(found, answer.units)])


def _for_price(found: Sequence[Advice], units: Mapping[str, str]) -> list[Block]:
    """Return what the changes cost, the most air for its price first; nothing where no stock gave prices."""
    known = [one for one in found if one.price is not None]
    if not known:
        return []
    known.sort(key=lambda one: one.rank_for_price or len(found) + 1)
    told = (
        "What each costs, the most air for its price first. Bought anew is what the changed shop has more of; what "
        "comes out is not sold again, and nobody's hours are counted."
    )
    lines = [f"{one.text}: {_price(one)} for {_purchases(one, units)}" for one in known]
    return [Paragraph(told), Bullets(lines, "WHAT EACH COSTS")]


def _price(one: Advice) -> str:
    if one.price is None:
        return ""
    return money(one.price, one.currency) + ("" if one.price_complete else " and what has no price")


def _purchases(one: Advice, units: Mapping[str, str]) -> str:
    """Return what a change takes, as words."""
    return ", ".join(one_line(item, units) for item in one.buys or ()) or "nothing"
