"""Layouts from a file: told in a table of words, and written as documents and plans."""

from __future__ import annotations

from pathlib import Path

import msgspec

from airbough import Client, Local, documents
from airbough.calls import LAYOUT
from airbough.report.buying import broken_in_words
from airbough.wire.layout import LayoutAnswer, LayoutLack


def laid_out(path: Path, client: Client | Local) -> LayoutAnswer:
    """Return the layouts of a shop in a file, with their plans.

    Raises:
        AirboughError: the shop is refused.
    """
    document = documents.plain(path)
    if isinstance(document, dict):
        document = {"drawings": ["plan"], **document}
    answer: LayoutAnswer = client.send(LAYOUT, documents.read(document, LAYOUT.request), ()).answer()
    return answer


def told(answer: LayoutAnswer) -> str:
    """Return the layouts as a person reads them: price and states of each, then what is proven and what is not."""
    lines = []
    for number, layout in enumerate(answer.layouts, 1):
        holds = "holds" if layout.holds else "does not hold"
        lines.append(f"layout {number}: {layout.price} {answer.currency or ''}".rstrip() + f", {holds}")
        lines.append(f"  {layout.price_in_words}")
        for state in layout.states:
            share = (
                "" if state.share_of_design is None else f", {state.share_of_design:.2f} of its design flow at least"
            )
            fails = ", does not hold" if state.holds is False else ""
            lines.append(f"  {state.name}{share}{fails}")
        lines += [f"  {words}" for words in broken_in_words(layout.broken)]
        if not layout.price_complete:
            lines.append("  some pieces have no price or are not in the stock: ask for the parts list of its tree")
        lines += [f"  runs {' and '.join(one.runs)} cross or lie side by side" for one in layout.overlaps]
    for clash in answer.clashes:
        lines.append(f"no duct serves {' with '.join(clash.machines)}: states {' and '.join(clash.states)}")
    lines += [_lacking(lack, answer.units) for lack in answer.lacking]
    for one in answer.corridor_prices:
        more = "none can run there" if one.more is None else f"{one.more} more at least"
        more += ", or none can run there" if one.at_least else ""
        lines.append(f"a duct along {one.along}: {more}")
    bound = "" if answer.bound is None else f" (bound {answer.bound})"
    lines.append(f"Proven{bound}: {answer.statement}.")
    lines.append("Not modelled: " + "; ".join(answer.not_modelled) + ".")
    return "\n".join([*lines, *answer.cautions]) + "\n"


def _lacking(lack: LayoutLack, units: dict[str, str]) -> str:
    """Return what a state lacks in every layout."""
    if lack.needed is None or lack.available is None or lack.missing is None:
        unit, asked, known = units.get("flow", ""), lack.flow or 0.0, lack.flow_of_curve or 0.0
        edge = "from" if asked < known else "to"
        return f"{lack.state}: it asks for {asked:.4g} {unit}, and the fan's curve is known {edge} {known:.4g} only"
    return (
        f"{lack.state}: every layout needs {lack.needed:.4g} {units.get('pressure', '')} at least, the fan leaves "
        f"{lack.available:.4g}: {lack.missing:.3g} are missing"
    )


def write(answer: LayoutAnswer, folder: Path) -> list[Path]:
    """Write each layout's outline, tree and plan, and the words, into a folder; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    texts = {"layouts.txt": told(answer)}
    for number, layout in enumerate(answer.layouts, 1):
        texts[f"layout-{number}-outline.json"] = _json(layout.outline)
        texts[f"layout-{number}-tree.json"] = _json(layout.tree)
        texts |= {f"layout-{number}-{of}.svg": svg for of, svg in layout.drawings.items()}
    if answer.drawing is not None:
        texts["plans.svg"] = answer.drawing
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return [folder / name for name in texts]


def _json(document: object) -> str:
    return msgspec.json.format(msgspec.json.encode(document)).decode() + "\n"
