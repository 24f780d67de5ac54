"""What moved between two files of answers: an engine or a catalogue changed, the designs did not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import msgspec
from rich.console import Console
from rich.text import Text

from airbough.command.journal import Entry, entries
from airbough.command.writing import plain

ALIKE: Final = 1.0e-9  # share by which two numbers may differ and be one
APART: Final = ("engine", "sources", "cautions")  # say what computed, not what came out


@dataclass(slots=True)
class Moved:
    """What moved.

    Attributes:
        compared: designs in both files.
        equal: of them, the designs of which nothing moved.
        only_old: designs without a new answer.
        only_new: designs without an old one.
        other_design: places at which another design stands now; not compared.
        outcomes: designs answered before and refused now, or the other way round.
        numbers: path -> number of designs in which it moved, the greatest share, the design of it, before and after.
        codes: finding code -> designs that gained it, designs that lost it.
    """

    compared: int = 0
    equal: int = 0
    only_old: int = 0
    only_new: int = 0
    other_design: list[str] = field(default_factory=list)
    outcomes: list[str] = field(default_factory=list)
    numbers: dict[str, tuple[int, float, str, float, float]] = field(default_factory=dict)
    codes: dict[str, tuple[int, int]] = field(default_factory=dict)

    @property
    def anything(self) -> bool:
        """Whether any answer moved."""
        return self.equal < self.compared


def moved(old: Path, new: Path) -> Moved:
    """Compare two files of answers, design by design; old ones are held in memory, new ones pass."""
    before = {one.id: one for one in entries(old)}
    out = Moved()
    for now in entries(new):
        was = before.pop(now.id, None)
        if was is None:
            out.only_new += 1
        elif was.digest != now.digest:
            out.other_design.append(now.id)
        else:
            _compare(was, now, out)
    out.only_old = len(before)
    return out


def _compare(was: Entry, now: Entry, out: Moved) -> None:
    out.compared += 1
    if was.status != now.status:
        out.outcomes.append(now.id)
        return
    if bytes(was.answer) == bytes(now.answer) and bytes(was.problem) == bytes(now.problem):
        out.equal += 1
        return
    old, new = (dict(_leaves(_decoded(one))) for one in (was, now))
    gained, lost = (set(_codes(_decoded(one))) for one in (now, was))
    changed = _numbers(old, new, now.id, out)
    for code in gained ^ lost:
        plus, minus = out.codes.get(code, (0, 0))
        out.codes[code] = (plus + (code in gained), minus + (code in lost))
        changed = True
    out.equal += not changed


def _numbers(old: dict[str, object], new: dict[str, object], design: str, out: Moved) -> bool:
    """Note every leaf that is another now; of a path that is told on one side alone, only that it moved."""
    told: dict[str, tuple[float, float, float]] = {}
    for path in old.keys() | new.keys():
        one, other = old.get(path), new.get(path)
        if one == other:
            continue
        name = path.split("\n")[0]
        if not (isinstance(one, int | float) and isinstance(other, int | float)):
            told.setdefault(name, (0.0, 0.0, 0.0))
            continue
        share = abs(other - one) / max(abs(one), abs(other))
        if share > ALIKE and share > told.get(name, (-1.0, 0.0, 0.0))[0]:
            told[name] = (share, float(one), float(other))
    for name, (share, one, other) in told.items():
        times, most, *rest = out.numbers.get(name, (0, -1.0, design, one, other))
        best = (share, design, one, other) if share > most else (most, *rest)
        out.numbers[name] = (times + 1, *best)  # type: ignore[assignment]  # the tuple is told in pieces
    return bool(told)


def _decoded(entry: Entry) -> object:
    told = msgspec.json.decode(bytes(entry.answer) or bytes(entry.problem))
    return {name: value for name, value in told.items() if name not in APART} if isinstance(told, dict) else told


def _leaves(value: object, path: str = "", key: str = "") -> Iterator[tuple[str, object]]:
    """Yield every number or word but findings' own: under its path, a newline, and where in lists it stands."""
    if isinstance(value, dict):
        name = str(value.get("id") or value.get("run") or value.get("name") or "")
        for inner, item in value.items():
            if inner != "findings":
                yield from _leaves(item, f"{path}.{inner}" if path else inner, f"{key}/{name}")
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _leaves(item, f"{path}[]", f"{key}/{number}")
    else:
        yield f"{path}\n{key}", value


def _codes(value: object) -> Iterator[str]:
    found = value.get("findings", ()) if isinstance(value, dict) else ()
    yield from (str(one.get("code")) for one in found if isinstance(one, dict))


def tell(found: Moved, console: Console) -> None:
    """Print what moved, what moved most first."""
    console.print(
        f"against before: {found.compared} designs compared, {found.compared - found.equal} moved, "
        f"{found.only_old} only before, {found.only_new} only now, {len(found.other_design)} changed themselves",
        soft_wrap=True,
    )
    for design in found.outcomes[:10]:
        console.print(Text(plain(f"  answered on one side, refused on the other: {design}")), soft_wrap=True)
    for code, (gained, lost) in sorted(found.codes.items()):
        console.print(Text(f"  {code}: {gained} gained it, {lost} lost it"), soft_wrap=True)
    most = sorted(found.numbers.items(), key=lambda item: -item[1][1])
    for name, (times, share, design, before, after) in most[:20]:
        words = (
            f"at most {share:.3g} of it, {before:.6g} to {after:.6g}" if share else "told on one side or other words"
        )
        console.print(Text(plain(f"  {name}: moved in {times}; {words} ({design})")), soft_wrap=True)
