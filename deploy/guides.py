"""Writes the guides that the service serves under `/docs`, from the README files whose steps the tests follow.

`.venv/bin/python deploy/guides.py`, after a change of one of them.
"""

import re
from pathlib import Path

from markdown_it import MarkdownIt

from airbough_service.api.document.pages import contents
from airbough_service.api.document.pages.markup import listing

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "service" / "airbough_service" / "api" / "document" / "static"
CHAPTERS = {
    "guide-first-shop": [("README.md", "Your own shop in ten minutes")],
    "guide-layout": [("README.md", "Which way should the duct run")],
    "guide-embed": [("README.md", "Answer a quoting page"), ("deploy/quote/README.md", ""), ("sdk/js/README.md", "")],
    "guide-sheet": [("README.md", "Fill a sheet"), ("deploy/spreadsheet/README.md", "")],
    "guide-batch": [("README.md", "Many designs from a terminal"), ("sdk/README.md", "More than one at once")],
}
"""Page -> file and heading of each of its chapters; without a heading the whole file."""

LABELS = {"": "A table", "sh": "Commands", "python": "Python", "js": "JavaScript"}


def chapter(file: str, heading: str) -> str:
    """Return a chapter, under a heading of the second level."""
    text = (ROOT / file).read_text("utf-8")
    if heading:
        inside = text.split(f"\n## {heading}\n", 1)[1].split("\n## ", 1)[0]
        return f"## {heading}\n{inside}"
    return re.sub(r"^(#+ )", r"#\1", outside_code(text), flags=re.MULTILINE).replace("\0", "#")


def outside_code(text: str) -> str:
    """Return a text in which a number sign that begins a line of code is put aside."""
    return re.sub(r"^```.*?^```$", lambda found: found[0].replace("#", "\0"), text, flags=re.DOTALL | re.MULTILINE)


def html(name: str) -> str:
    """Return a guide's own words as HTML; the service puts them into the frame of its pages."""
    reader = MarkdownIt("commonmark").enable("table")
    rules = reader.renderer.rules
    rules["fence"] = lambda tokens, at, *_: listing(tokens[at].content, LABELS.get(tokens[at].info, "Code")) + "\n"
    rules["table_open"] = lambda *_: '<div class="wide few" tabindex="0" role="group" aria-label="Table"><table>\n'
    rules["table_close"] = lambda *_: "</table></div>\n"
    said = "".join(reader.render(chapter(*place)) for place in CHAPTERS[name])
    return f"<h1>{contents.GUIDES[name]}</h1>\n{said}"


if __name__ == "__main__":
    for page in CHAPTERS:
        (FOLDER / f"{page}.html").write_text(html(page), "utf-8")
