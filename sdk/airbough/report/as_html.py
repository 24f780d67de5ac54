"""A report as one HTML file that needs nothing else: no script, no font, no address; drawn and printed alike."""

from __future__ import annotations

import base64
from html import escape
from pathlib import Path

from airbough.report.blocks import (
    Bars,
    Block,
    Bullets,
    Card,
    Chapter,
    Joint,
    Paragraph,
    Picture,
    Report,
    Stick,
    Table,
    clean,
)

_MOST = 1.5
_STYLE = Path(__file__).with_name("style.css").read_text(encoding="utf-8")


def html(report: Report) -> str:
    """Return a report as one HTML document."""
    parts = [
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width,initial-scale=1">',
        f"<title>{_safe(report.title)}</title><style>{_STYLE}</style></head><body>",
        f"<h1>{_safe(report.title)}</h1>",
    ]
    if report.lead:
        parts.append(f"<p>{_safe(report.lead)}</p>")
    parts += [_chapter(chapter) for chapter in report.chapters]
    if report.cautions:
        parts.append(
            "<h2>Cautions</h2><ul>" + "".join(f"<li>{_safe(words)}</li>" for words in report.cautions) + "</ul>"
        )
    return "\n".join([*parts, "</body></html>"]) + "\n"


def _safe(words: str) -> str:
    return escape(clean(words))


def _chapter(chapter: Chapter) -> str:
    """Return a chapter; its cards lie side by side."""
    out = [f"<h2>{_safe(chapter.title)}</h2>"]
    cards: list[str] = []
    for block in chapter.blocks:
        (cards if isinstance(block, Card) else out).append(_block(block))
    if cards:
        out.append(f'<div class="cards">{"".join(cards)}</div>')
    return "\n".join(out)


def _block(block: Block) -> str:
    """Return a block."""
    if isinstance(block, Paragraph):
        return f"<p>{_safe(block.words)}</p>"
    if isinstance(block, Bullets):
        return _bullets(block)
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Bars):
        return "".join(_bar(bar.name, bar.share, bar.words) for bar in block.bars)
    if isinstance(block, Stick):
        return _stick(block)
    if isinstance(block, Joint):
        return _joint(block)
    if isinstance(block, Card):
        lines = "<br>".join(_safe(line) for line in block.lines)
        return f'<div class="card"><b>{_safe(block.name)}</b>{lines}</div>'
    return _picture(block)


def _bullets(block: Bullets) -> str:
    head = f"<h3>{_safe(block.heading)}</h3>" if block.heading else ""
    items = "".join(f"<li{' class=more' if words.startswith(' ') else ''}>{_safe(words)}</li>" for words in block.items)
    return f"{head}<ul>{items}</ul>"


def _table(block: Table) -> str:
    """Return a table; columns without anything are left out."""
    kept = [place for place in range(len(block.headings)) if any(row[place] for row in block.rows)]

    def cells(row: object, tag: str) -> str:
        return "".join(
            f"<{tag}{' class=l' if place < block.left else ''}>{_safe(row[place])}</{tag}>"  # type: ignore[index]
            for place in kept
        )

    body = "".join(f"<tr>{cells(row, 'td')}</tr>" for row in block.rows)
    head = f"<thead><tr>{cells(block.headings, 'th')}</tr></thead>"
    return f'<div class="wide"><table>{head}<tbody>{body}</tbody></table></div>'


def _bar(name: str, share: float, words: str) -> str:
    """Return a bar; one below its need is hatched, so that it is told without colour."""
    wide = 100.0 * min(max(share, 0.0), _MOST) / _MOST
    low = " low" if share < 1.0 - 1.0e-6 else ""
    fill = f'<span class="fill" style="width:{wide:.1f}%"></span>'
    need = f'<span class="need" style="left:{100.0 / _MOST:.1f}%"></span>'
    way = f'<span class="way">{fill}{need}</span>'
    return f'<div class="bar{low}"><span>{_safe(name)}</span>{way}<span>{_safe(words)}</span></div>'


def _stick(block: Stick) -> str:
    """Return a stick to scale."""
    pieces = ""
    for piece in block.pieces:
        kind = "" if piece.words else " class=off"
        pieces += f'<span{kind} style="width:{100.0 * piece.share:.2f}%">{_safe(piece.words)}</span>'
    return f'<div>{_safe(block.name)}<div class="stick">{pieces}</div></div>'


def _joint(block: Joint) -> str:
    """Return a joint as a picture: two pieces, the inner one inside, the air as an arrow from left to right."""
    inner = block.inner
    first = (10, 190 if inner == 0 else 160, 22 if inner == 0 else 16)
    second = (130 if inner == 1 else 160, 310, 22 if inner == 1 else 16)
    drawn = ""
    for left, right, top in sorted((first, second), key=lambda one: one[2]):
        fill = "#cfdde8" if top == 16 else "#eef4f8"
        box = f'x="{left}" y="{top}" width="{right - left}" height="{80 - 2 * top}"'
        drawn += f'<rect {box} fill="{fill}" stroke="#1b1f24" stroke-width="2"/>'
    arrow = '<path d="M60 40H250" stroke="#0072b2" stroke-width="4"/><path d="M246 31L264 40L246 49Z" fill="#0072b2"/>'
    label = f"{block.upstream} into {block.downstream}"
    svg = (
        f'<svg viewBox="0 0 320 80" width="320" height="80" role="img" aria-label="{_safe(label)}">{drawn}{arrow}</svg>'
    )
    ends = {0: "the first goes inside", 1: "the second goes inside", None: "neither goes inside"}[inner]
    words = f"{_safe(block.upstream)} &rarr; {_safe(block.downstream)} ({ends}). {_safe(block.words)}"
    return f'<div class="joint">{svg}{words}</div>'


def _picture(block: Picture) -> str:
    """Return a drawing as an image, in which nothing of it can run."""
    data = base64.b64encode(block.svg.encode()).decode()
    return f'<img alt="{_safe(block.words)}" src="data:image/svg+xml;base64,{data}">'
