"""The validation page's own words, as plain HTML; the service puts them into the frame of all its pages."""

from __future__ import annotations

import html
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

DEPARTURES = {
    "Friction": "Colebrook's equation with the wall's roughness, at this air. Printed sheets often read friction from "
    "a chart or use a power law of flow and velocity; charts differ from Colebrook by up to 8 % and the "
    "power law by more beyond its velocities. The power law can be asked for by name, and then printed "
    "sheets come out.",
    "Slow air": "Between Reynolds numbers of 2,000 and 4,000 no law is certain. Friction there is a straight line "
    "between both ends, common practice and no source, and a run that lies there is told.",
    "Junctions": "Published coefficients of branches differ among editions by more than anything else in a duct. One "
    "law is the default, by measurements that two groups published; others can be asked for by name. Every measured "
    "point is among the single values, and the last worked example tells part by part what our law and fittings move "
    "in a whole system.",
    "One density": "The air has one density in the whole tree. Above 20 inches of water of suction that is told, above "
    "60 refused.",
    "Printed slips": "Some printed values contradict their own method. They are marked with what the method gives, and "
    "that is what must come out here.",
}


def page(found: Any) -> str:
    """Return the page."""
    return "\n".join(_parts(found)) + "\n"


def _parts(found: Any) -> Iterator[str]:
    lines = [line for part in (*found.sources, *found.examples) for line in part.lines]
    yield "<h1>What the numbers were checked against</h1>"
    yield _summary(found, lines)
    yield _contents()
    yield '<h2 id="where">Where we depart, and why</h2><dl>'
    for name, why in DEPARTURES.items():
        yield f"<dt><b>{_text(name)}</b></dt><dd>{_text(why)}</dd>"
    yield "</dl>"
    yield '<h2 id="examples">Worked examples, line by line</h2>'
    yield _list((f"example-{number}", example.title) for number, example in enumerate(found.examples))
    for number, example in enumerate(found.examples):
        yield f'<section id="example-{number}"><h3>{_text(example.title)}</h3>'
        yield f"<p>{_text(example.source)}, {_text(example.place)}: {_text(example.how)}.</p>"
        yield f"<p><small>{_text(example.note)}</small></p>"
        yield _table(example.lines, places=False) + "</section>"
    yield '<h2 id="values">Single values, by source</h2>'
    yield _list(
        (f"source-{number}", f"{source.title} ({len(source.lines)})") for number, source in enumerate(found.sources)
    )
    for number, source in enumerate(found.sources):
        yield f'<section id="source-{number}"><h3>{_text(source.title)}</h3>'
        yield _table(source.lines, places=True) + "</section>"
    yield '<h2 id="peers">General libraries side by side</h2>'
    yield "<p>Computed here by a library that knows nothing of this service, from the same inputs.</p>"
    yield _peers(found.peers)
    yield '<h2 id="memory">What rests on memory or common practice</h2>'
    yield (
        "<p>Numbers of the catalogue that an answer may use and that nobody has yet read in the document they are said "
        "to come from. Each answer names its sources with how they were read.</p>"
    )
    yield _remembered(found.remembered)


def _summary(found: Any, lines: list[Any]) -> str:
    how = Counter(line.how for line in lines)
    departing = sum(line.method is not None for line in lines)
    apart = sorted(abs(line.difference) for line in lines if line.method is None and not _near_nothing(line))
    half, most = (f"{float(f'{100.0 * apart[int(share * len(apart))]:.1g}'):g} %" for share in (0.5, 0.9))
    return (
        f"<p>{len(lines)} printed values from {len(found.sources)} handbooks, standards, courses and papers and "
        f"{len(found.examples)} whole worked examples are computed again by the code that answers, each within what "
        f"its printed rounding, its chart or its own spread allows: {how['read']} read in the document, "
        f"{how['worked']} worked by hand from a printed method, {how['memory']} from memory. Half of those that are "
        f"not near 0 differ by less than {half}, nine in ten by less than {most}. {departing} printed values "
        "contradict their own method and are listed with what the method gives. "
        f"{len(found.peers)} values more are set beside general libraries. The tests of this version check the same "
        "cases, and fail where this page no longer tells what the code computes. A published average is no "
        "measurement: measure the finished system.</p>"
    )


def _contents() -> str:
    places = {
        "where": "Where we depart, and why", "examples": "Worked examples", "values": "Single values",
        "peers": "General libraries", "memory": "What rests on memory",
    }  # fmt: skip
    return _list(places.items())


def _list(places: Iterable[tuple[str, str]]) -> str:
    """Return links to places of the page, with their words."""
    items = "".join(f'<li><a href="#{name}">{_text(words)}</a></li>' for name, words in places)
    return f'<ul class="places">{items}</ul>'


def _table(lines: Iterable[Any], *, places: bool) -> str:
    head = "<tr><th>what</th>" + ("<th>place</th>" if places else "")
    head += "<th>printed</th><th>ours</th><th>difference</th><th>allowed</th>" + ("<th>how</th>" if places else "")
    return _wide(f"{head}</tr>{''.join(_row(line, places) for line in lines)}", few=not places)


def _wide(rows: str, *, few: bool = False) -> str:
    """Return a table that a narrow window scrolls by itself, unless its few columns fit."""
    kind = "wide few" if few else "wide"
    return f'<div class="{kind}" tabindex="0" role="group" aria-label="Table"><table>{rows}</table></div>'


def _near_nothing(line: Any) -> bool:
    """Return whether a printed value is so near to 0 that a share of it says nothing."""
    return abs(line.printed) < 2.0 * line.tolerance


def _apart(line: Any) -> str:
    """Return ours less the printed value, as a share where that says something."""
    if line.difference is not None and not _near_nothing(line):
        return _percent(line.difference, 1)
    apart = float(f"{line.ours - line.printed:.2g}")
    return f"{apart:+g}{_unit(line)}" if apart else "0"


def _row(line: Any, places: bool) -> str:
    unit = _unit(line)
    printed = f"{_number(line.printed)}{unit}"
    if line.method is not None:
        printed += f"<br><b>its own method: {_number(line.method)}</b>"
    what = _text(line.what) + (f"<br><small>{_text(line.note)}</small>" if line.note else "")
    numbers = [printed, f"{_number(line.ours)}{unit}", _apart(line), f"± {float(f'{line.tolerance:.2g}'):g}"]
    words = [what, *([_text(line.place)] if places else [])]
    return f"<tr>{_cells(words)}{_cells(numbers, number=True)}{_cells([_text(line.how)] if places else [])}</tr>\n"


def _cells(texts: Iterable[str], *, number: bool = False) -> str:
    start = '<td class="number">' if number else "<td>"
    return "".join(f"{start}{text}</td>" for text in texts)


def _unit(line: Any) -> str:
    return "" if line.unit in ("-", "") else f" {_text(line.unit)}"


def _peers(peers: Iterable[Any]) -> str:
    rows = "".join(
        f"<tr><td>{_text(peer.library)}</td><td>{_text(peer.what)}</td>"
        + _cells([f"{_number(one)}{_unit(peer)}" for one in (peer.theirs, peer.ours)], number=True)
        + _cells([_percent(peer.ours / peer.theirs - 1.0, 2)], number=True)
        + f"<td>{_text(peer.why)}</td></tr>\n"
        for peer in peers
    )
    head = "<tr><th>library</th><th>what</th><th>theirs</th><th>ours</th><th>difference</th><th>why</th></tr>"
    return _wide(head + rows)


def _remembered(items: Iterable[Any]) -> str:
    rows = "".join(
        f"<tr><td>{_text(item.file)}</td><td>{_text(item.entry)}</td><td>{_text(item.place)}</td>"
        f'<td>{_text(item.how.replace("-", " "))}</td><td class="number">± {100.0 * item.spread:.0f} %</td></tr>\n'
        for item in items
    )
    head = "<tr><th>file</th><th>entry</th><th>said to be from</th><th>how</th><th>spread</th></tr>"
    return _wide(head + rows)


def _number(value: float) -> str:
    """Return four digits: what the test of the page compares is three."""
    return f"{value:.4g}"


def _percent(share: float, digits: int) -> str:
    """Return a difference; none has no sign, whichever way the last bit fell."""
    percent = round(100.0 * share, digits)
    return f"{percent:+.{digits}f} %" if percent else f"{0.0:.{digits}f} %"


def _text(text: str) -> str:
    return html.escape(str(text)).replace("\n", " ")
