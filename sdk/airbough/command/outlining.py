"""From an outline's file to its tree, its drawings and the first answers: each machine alone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import msgspec

from airbough import Client, Local, documents
from airbough import report as reports
from airbough.wire.drawing import DrawingAnswer
from airbough.wire.outline import OutlineAnswer, OutlineRequest

PLACED: Final = ("plan", "side")


@dataclass(frozen=True, slots=True)
class Outlined:
    """What an outline comes to.

    Attributes:
        answer: the tree, and what was assumed.
        states: each machine alone; None without a fan.
        drawings: by what they are of.
    """

    answer: OutlineAnswer
    states: Any
    drawings: dict[str, DrawingAnswer]


def outlined(path: Path, client: Client | Local) -> Outlined:
    """Return what the outline in a file comes to.

    Raises:
        AirboughError: the outline, or its tree, is refused.
    """
    answer = client.outline(documents.load(path, OutlineRequest))
    tree, states = answer.tree, None
    if tree.collector is not None:
        machines = dict.fromkeys(run.hood.machine_id or run.id for run in tree.runs if run.hood is not None)
        states = client.gate_states(tree, states=[{"name": name, "open": [name]} for name in machines])
    drawings = {}
    for of in ("tree", *PLACED):
        if of == "tree" or all(run.path is not None for run in tree.runs):
            drawings[of] = client.drawing(tree, of=of)
    return Outlined(answer, states, drawings)


def told(found: Outlined) -> str:
    """Return an outline as a person reads it: each machine alone, then what was assumed and what to know of it."""
    states = () if found.states is None else (found.states,)
    return reports.text(reports.whole(*states, found.answer, title=found.answer.name or "Outline"))


def write(found: Outlined, folder: Path) -> list[Path]:
    """Write tree, drawings and report into a folder, made where it is not; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    texts = {"tree.json": msgspec.json.format(msgspec.json.encode(found.answer.tree)).decode() + "\n"}
    texts |= {f"{of}.svg": drawn.svg for of, drawn in found.drawings.items()}
    texts["report.txt"] = told(found)
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return [folder / name for name in texts]
