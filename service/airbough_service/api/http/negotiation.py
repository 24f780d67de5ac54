"""Which media type an answer has, and a GET's answer as JSON, CSV, text or XML for sheets that read nothing else."""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final
from xml.sax.saxutils import escape

import msgspec
from litestar.datastructures.headers import Accept
from msgspec import Struct

from airbough.reading import answer_rows
from airbough.wire.problem import Fault
from airbough_service.api.http.query import Format
from airbough_service.api.problems import HttpRefusal
from airbough_service.terms.refusal import Refusal

MEDIA_TYPES: Final[dict[Format, str]] = {
    "json": "application/json",
    "csv": "text/csv; charset=utf-8",
    "text": "text/plain; charset=utf-8",
    "xml": "application/xml; charset=utf-8",
}
_OFFERED: Final[dict[str, Format]] = {
    "application/json": "json",
    "text/csv": "csv",
    "text/plain": "text",
    "application/xml": "xml",
    "text/xml": "xml",
}
PARTS: Final = {"image/svg+xml": "svg", "text/csv": "csv"}
"""Media types that `Accept` may name in place of JSON, and the field of a POST's answer that holds such a text."""

_BESIDE: Final = ("units", "findings", "sources", "cautions")
"""Fields that stand beside what was asked; a table leaves them out."""

_MOST_KEPT: Final = 256  # headers of which it is remembered what they choose: a caller sends the same ones
_LONGEST_KEPT: Final = 512  # characters of one
_NO_XML: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def chosen(accept: str, offered: Sequence[str]) -> str:
    """Return the media type that `Accept` prefers among those offered; the first where it does not say.

    Raises:
        HttpRefusal: `not-acceptable` where it takes none of them.
    """
    if len(accept) > _LONGEST_KEPT:
        return _chosen(accept, offered)
    return _remembered(accept, tuple(offered))


def _chosen(accept: str, offered: Sequence[str]) -> str:
    wanted = [part for part in (_Part.read(text) for text in accept.split(",")) if part is not None]
    if not wanted or _by_a_person(wanted):
        return offered[0]
    refused = {part.media for part in wanted if part.quality == 0.0}
    left = [media for media in offered if media not in refused]
    header = ",".join(f"{part.media};q={part.quality:.3f}" for part in wanted if part.quality > 0.0)
    best = Accept(header).best_match(left) if header else None
    if best is None:
        raise HttpRefusal("not-acceptable", f"there is {', '.join(offered)}")
    return best


_remembered = lru_cache(_MOST_KEPT)(_chosen)


def from_a_browser(accept: str) -> bool:
    """Return whether `Accept` is that of a person at a browser's address bar."""
    return _by_a_person([part for part in map(_Part.read, accept.split(",")) if part is not None])


def _by_a_person(wanted: Sequence[_Part]) -> bool:
    return any(part.media == "text/html" for part in wanted)


@dataclass(frozen=True, slots=True)
class _Part:
    """One media range of `Accept`."""

    media: str
    quality: float

    @classmethod
    def read(cls, text: str) -> _Part | None:
        """Return a part of the header, or None where it is none."""
        media, *parameters = (piece.strip().lower() for piece in text.split(";"))
        if not re.fullmatch(r"(\*|[a-z0-9.+-]+)/(\*|[a-z0-9.+-]+)", media):
            return None
        for parameter in parameters:
            if parameter.startswith("q="):
                if not re.fullmatch(r"q=(0(\.[0-9]{0,3})?|1(\.0{0,3})?)", parameter):
                    return None
                return cls(media, float(parameter[2:]))
        return cls(media, 1.0)


def takes_gzip(accept_encoding: str) -> bool:
    """Return whether `Accept-Encoding` takes gzip, itself or by `*`, with a quality above 0."""
    quality = {}
    for part in accept_encoding.split(","):
        coding, _, parameter = part.replace(" ", "").lower().partition(";")
        value = parameter.removeprefix("q=")
        quality[coding] = float(value) if re.fullmatch(r"[01](\.[0-9]{0,3})?", value) else 1.0
    return quality.get("gzip", quality.get("x-gzip", quality.get("*", 0.0))) > 0.0


def chosen_format(accept: str) -> Format:
    """Return the format of a GET's answer that `Accept` prefers; raises as `chosen`."""
    return _OFFERED[chosen(accept, list(_OFFERED))]


def chosen_part(accept: str, answer: Struct | type[Struct]) -> str:
    """Return the media type of a POST's answer that `Accept` prefers: JSON, or that of a part which it has.

    Raises:
        HttpRefusal: `not-acceptable`.
    """
    return chosen(
        accept, ["application/json", *(media for media, part in PARTS.items() if getattr(answer, part, None))]
    )


def rendered(answer: Struct, accept: str) -> tuple[bytes, str]:
    """Return a POST's answer and its media type: JSON, or the one part of it that `Accept` names and it has."""
    media = chosen_part(accept, answer)
    if media in PARTS:
        return getattr(answer, PARTS[media]).encode(), media + "; charset=utf-8"
    return msgspec.json.encode(answer), media


def render(answer: Struct, wanted: Format) -> bytes:
    """Return the whole answer in a format."""
    if wanted == "json":
        return msgspec.json.encode(answer)
    if wanted == "xml":
        return f'<?xml version="1.0" encoding="UTF-8"?>\n<answer>{_elements(plain(answer))}</answer>\n'.encode()
    if wanted == "csv":
        return (getattr(answer, PARTS["text/csv"], None) or _table(answer)).encode()
    return "".join(f"{path}\t{_text(item)}\n" for path, item in _leaves(plain(answer))).encode()


def plain(answer: Struct) -> Any:
    """Return the answer as JSON would hold it."""
    return msgspec.json.decode(msgspec.json.encode(answer))


def codes(answer: Any) -> str:
    """Return the codes of an answer's findings, separated by commas, each once."""
    return ", ".join(dict.fromkeys(finding.code for finding in getattr(answer, "findings", ())))


def one_value(answer: Struct, path: str) -> bytes:
    """Return one value of the answer as text: a number has a decimal point and neither unit nor grouping.

    Args:
        answer: the answer struct.
        path: names separated by points; an item of a list by its place or its `id`; `findings` gives the codes.

    Raises:
        Refusal: `unknown-word` where the answer has no such value.
    """
    if path == "findings":
        return codes(answer).encode()
    here = plain(answer)
    for step in path.replace("[", ".").replace("]", "").split("."):
        options = _options(here)
        if step not in options:
            near = difflib.get_close_matches(step, list(options), n=3) or list(options)[:20]
            detail = f"`{step}` is not in this answer; there is {', '.join(near)}" if near else "a path ends at a value"
            raise Refusal("unknown-word", [Fault(path="value", code="unknown-value", detail=detail)])
        here = options[step]
    if isinstance(here, dict | list):
        names = ", ".join(list(_options(here))[:20])
        raise Refusal("unknown-word", [Fault(path="value", code="not-one-value", detail=f"go on with one of: {names}")])
    return _text(here).encode()


def _options(here: Any) -> dict[str, Any]:
    if isinstance(here, dict):
        return here
    if not isinstance(here, list):
        return {}
    named = {str(item[key]): item for item in here if isinstance(item, dict) for key in ("id", "type") if key in item}
    return named | {str(index): item for index, item in enumerate(here)}


def _text(item: Any) -> str:
    if isinstance(item, bool):
        return "true" if item else "false"
    if isinstance(item, float):
        return answer_rows.short(item)
    return "" if item is None else str(item)


def _leaves(here: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(here, dict | list):
        steps = here.items() if isinstance(here, dict) else enumerate(here)
        for step, item in steps:
            yield from _leaves(item, f"{path}.{step}" if path else str(step))
    elif here is not None:
        yield path, here


def _table(answer: Struct) -> str:
    """Return RFC 4180 text: a row for each item where the answer is one list, else one row."""
    asked = {name: item for name, item in plain(answer).items() if name not in _BESIDE}
    lists = [item for item in asked.values() if isinstance(item, list) and item and isinstance(item[0], dict)]
    items = lists[0] if len(lists) == 1 else [asked]
    rows = [dict(_leaves({name: item for name, item in row.items() if name != "data"})) for row in items]
    columns = list(dict.fromkeys(column for row in rows for column in row))
    written = io.StringIO()
    table = csv.writer(written, lineterminator="\r\n")
    table.writerow(columns)
    table.writerows([_cell(row.get(column)) for column in columns] for row in rows)
    return written.getvalue()


def _cell(item: Any) -> str:
    """Return a cell's text; words that a sheet would take for a formula are quoted as text."""
    text = _text(item)
    return f"'{text}" if isinstance(item, str) and text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def _elements(here: Any) -> str:
    if isinstance(here, dict):
        return "".join(f"<{_tag(name)}>{_elements(item)}</{_tag(name)}>" for name, item in here.items())
    if isinstance(here, list):
        return "".join(f"<item>{_elements(item)}</item>" for item in here)
    return escape(_NO_XML.sub("", _text(here)))


def _tag(name: str) -> str:
    tag = re.sub(r"[^A-Za-z0-9_.-]", "_", str(name))
    return tag if tag[:1].isalpha() or tag[:1] == "_" else f"_{tag}"
