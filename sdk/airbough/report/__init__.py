"""Answers as a person reads them: reports as text, Markdown or one HTML file, and each chapter by itself as text."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from msgspec import Struct, structs

from airbough.report import advice as _advice
from airbough.report import as_text, balancing, buying, first_day, flows, hand_sheet, offers, outline, site, states
from airbough.report import findings as _findings
from airbough.report.as_html import html
from airbough.report.as_markdown import markdown
from airbough.report.as_text import text
from airbough.report.blocks import Bullets, Chapter, Paragraph, Picture, Report, once
from airbough.report.states import pairs_csv
from airbough.report.words import plain
from airbough.wire.answer import Finding, Suggestion, TreeAnswer
from airbough.wire.balance import BalanceAnswer
from airbough.wire.compare import CompareAnswer
from airbough.wire.diagnosis import DiagnosisAnswer
from airbough.wire.drawing import DrawingAnswer
from airbough.wire.gate_states import GateStatesAnswer
from airbough.wire.make_up_air import MakeUpAirAnswer
from airbough.wire.operating_point import OperatingPointAnswer
from airbough.wire.outline import OutlineAnswer
from airbough.wire.parts_list import PartsListAnswer
from airbough.wire.quote import QuoteAnswer
from airbough.wire.sizing import SizingAnswer
from airbough.wire.strength import StrengthAnswer
from airbough.wire.variants import VariantsAnswer
from airbough.wire.working_day import WorkingDayAnswer

__all__ = [
    "commissioning", "explanation", "findings", "gate_labels", "gate_states", "html", "markdown", "pairs", "pairs_csv",
    "parts_list", "report", "sizing", "text", "whole",
]  # fmt: skip

_OWN: Final[tuple[tuple[type[Any], Callable[[Any], Chapter]], ...]] = (
    (BalanceAnswer, balancing.chapter),
    (SizingAnswer, buying.sizing),
    (PartsListAnswer, buying.parts_list),
    (WorkingDayAnswer, site.working_day),
    (StrengthAnswer, site.strength),
    (MakeUpAirAnswer, site.make_up_air),
    (DiagnosisAnswer, site.diagnosis),
    (GateStatesAnswer, states.chapter),
    (CompareAnswer, site.compare),
)
_NO_UNITS: Mapping[str, str] = {}


def whole(*answers: Struct, title: str | None = None) -> Report:
    """Return answers of any questions about one shop as one report, each caution once.

    The air of the first answer is told in full; of later answers their own chapters. An operating point with
    `uncertainty` brings how sure it is and the commissioning card; gate states bring the labels of the gates.

    Args:
        answers: of tree questions, compare and drawing, in the order in which they are told.
        title: left out: the name of the first.
    """
    chapters: list[Chapter] = []
    seen: set[tuple[str, str]] = set()
    for answer in answers:
        chapters += _chapters(_new(answer, seen), first=not any(chapter.title == "The air" for chapter in chapters))
    cautions = once(words for answer in answers for words in getattr(answer, "cautions", ()))
    named = title or next((name for answer in answers if (name := getattr(answer, "name", None))), None)
    return Report(named or "Duct tree", chapters, cautions)


def _new(answer: Struct, seen: set[tuple[str, str]]) -> Struct:
    """Return an answer without the findings that earlier ones told, noting its own."""
    if not isinstance(answer, TreeAnswer):
        return answer
    kept = tuple(item for item in answer.findings if (item.code, item.message) not in seen)
    seen |= {(item.code, item.message) for item in kept}
    return structs.replace(answer, findings=tuple(_with_advice(item, answer.cautions) for item in kept))


def _with_advice(item: Finding, cautions: Sequence[str]) -> Finding:
    """Return a finding whose advice is no caution in full, which stands at the end."""
    if item.suggestion is None or item.suggestion.text not in cautions:
        return item
    return structs.replace(item, suggestion=Suggestion(text="see the cautions at the end"))


def _chapters(answer: Struct, *, first: bool) -> list[Chapter]:
    """Return the chapters of one answer."""
    if isinstance(answer, DrawingAnswer):
        return [Chapter(answer.title, [Picture(answer.title, answer.svg, answer.description)])]
    found = [made(answer) for kind, made in _OWN if isinstance(answer, kind)]
    if isinstance(answer, QuoteAnswer):
        found += offers.quote(answer)
    if isinstance(answer, VariantsAnswer):
        found.append(offers.variants(answer))
    if isinstance(answer, OutlineAnswer):
        found += [outline.chapter(answer), Chapter("Found", _findings.blocks(answer.findings, {}))]
    if isinstance(answer, TreeAnswer):
        found += _of_tree(answer, first=first, alone=not found)
    return found


def _of_tree(answer: TreeAnswer, *, first: bool, alone: bool) -> list[Chapter]:
    """Return what any tree answer brings beside its own chapter: the air once, how sure, the first day, why."""
    found = []
    if first or alone:
        found.append(flows.chapter(answer))
    else:
        found.append(Chapter("Found beside it", _findings.blocks(answer.findings, answer.units)))
    if isinstance(answer, OperatingPointAnswer) and answer.fans:
        found.append(site.fans(answer))
    if isinstance(answer, GateStatesAnswer):
        found.append(states.labels(answer))
    if answer.uncertainty is not None:
        found += [site.how_sure(answer.uncertainty, answer.units), first_day.chapter(answer)]
    tried = _advice.chapter(answer)
    if tried is not None:
        found.append(tried)
    if answer.explanation:
        found.append(hand_sheet.chapter(answer))
    return [chapter for chapter in found if chapter.blocks]


def report(answer: Struct, *, width: int = 100) -> str:
    """Return any answer about a shop as text: of a tree question, an outline, a quote, variants or a comparison.

    Args:
        answer: of any question about a tree.
        width: of a line.
    """
    engine = getattr(answer, "engine", None)
    told = whole(answer)
    lead = f"engine {engine.version}, junctions: {plain(engine.junctions)}" if engine is not None else ""
    name = f"{told.title}: airflow report{f' ({lead})' if lead else ''}"
    return text(Report(name, told.chapters, told.cautions), width=width)


def _alone(chapter: Chapter, width: int = 100) -> str:
    """Return one chapter as text."""
    return "\n".join(as_text.chapter_lines(chapter, width=width)).rstrip() + "\n"


def gate_states(answer: GateStatesAnswer) -> str:
    """Return how many states of the gates hold, the worst, all named ones, what clears what, and the pairs."""
    return _alone(states.chapter(answer))


def pairs(answer: GateStatesAnswer) -> str:
    """Return machine by machine whether two can run together, as text; of an answer with `up_to` 2."""
    table = states.pairs_table(answer)
    return _alone(Chapter("Pairs", [table if table is not None else Paragraph("No pair was asked for.")]))


def gate_labels(answer: GateStatesAnswer) -> str:
    """Return a label for each gate, to print and cut out."""
    return _alone(states.labels(answer))


def commissioning(answer: TreeAnswer) -> str:
    """Return what to read where on the first day; of an answer with `uncertainty`."""
    return _alone(first_day.chapter(answer))


def explanation(answer: TreeAnswer, run: str | None = None) -> str:
    """Return an explanation as a sheet to be worked by hand; of an answer with `explain`."""
    return _alone(hand_sheet.chapter(answer, run))


def sizing(answer: SizingAnswer) -> str:
    """Return the chosen diameters, what they cost and what they ask of the fan."""
    return _alone(buying.sizing(answer))


def parts_list(answer: PartsListAnswer) -> str:
    """Return what to buy, how the sticks are cut and how the pieces are joined."""
    return _alone(buying.parts_list(answer))


def findings(items: Sequence[Finding], units: Mapping[str, str] = _NO_UNITS, *, width: int = 100) -> list[str]:
    """Return findings as lines, the gravest first, those of one code in one.

    Args:
        items: in any order.
        units: of the answer, by kind; what was gained is told with them.
        width: of a line.
    """
    blocks: Sequence[Bullets | Paragraph] = _findings.blocks(items, units)
    chapter = Chapter("", blocks or [Paragraph("Every check that was made holds.")])
    lines = as_text.chapter_lines(chapter, width=width, titled=False)
    return [line for line in lines if line]
