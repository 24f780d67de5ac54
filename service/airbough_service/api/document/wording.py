"""What the document says in words of its own: its description, headers and the parameters that say how to answer."""

from __future__ import annotations

from typing import Any, Final

from airbough_service.api.http import sheet
from airbough_service.api.http.query import (
    DECIMALS,
    FORMATS,
)

Node = dict[str, Any]

UNITS: Final = """\
A quantity's text is a number, or a whole number with a fraction, or a fraction alone, then a unit of its kind; feet \
and inches may follow one another. Units are read in any case but `MJ`; `°` is read as `deg`, `²` and `³` as `^2` and \
`^3`, curly quotes and primes as straight ones. One comma may stand for the decimal point, but before exactly three \
digits only after a whole part of 0. Nothing else may stand between digits. A time of the day may be written as a \
clock shows it: `8:00`, `13:30:15`, `1:30 pm`."""

DESCRIPTION: Final = """\
Answers airflow questions about wood-dust extraction ducts. Stateless: an answer depends on the request and the \
engine's version alone. Every request names its preset of units; a bare number is in the preset's unit, a text \
carries its own (`"4 1/2 in"`, `"6 ft 4 in"`, `"½ in"`, `"70 °F"`; the closed list of units is `x-units`). \
Flows are actual volumes at the duct's own density. A check holds or does not hold; \
no answer says that a system is fit to run. Local codes and licensed practice decide.

Sheets can set no header: on a GET, `format` wins over `Accept`, `value` asks for one value as text, and `errors=cell` \
turns a refusal into the text of a cell. HEAD answers as GET."""
TABLE: Final = (
    "The same as a table: settings in two columns, then a row for each line and machine, units in the headings; "
    "`/v1/outlines/template?format=csv` is one to fill in."
)
TREE_TABLE: Final = (
    "The same as a table: settings in two columns (`units`, `dust`, `open`, `fan_flow` and `fan_pressure` with a point "
    "of the curve in each further cell), then a row for each run under `id`, `into`, `diameter`, `length`, `duct`, "
    "`fittings`, `join`, `angle`, `machine`, `flow`, `entry`, `gate` and others, units in the headings. Settings may "
    "stand in the query too. The answer is a table, unless `Accept` prefers JSON."
)
SHEET: Final[list[Node]] = [
    {
        "name": name,
        "in": "query",
        "description": description,
        "schema": {"type": "string", "enum": list(words)},
    }
    for name, description, words in (
        ("of", "Of an answer as a table: which list of it is told. Left out: `runs`.", sheet.PARTS),
        ("separator", "Of an answer as a table: what parts its cells.", tuple(sheet.SEPARATORS)),
        ("decimal", "Of a table: the decimal mark, read and answered; with a comma cells are parted by semicolons.",
         ("comma", "point")),
    )
]  # fmt: skip
HEADERS: Final[Node] = {
    "X-Request-Id": {
        "description": "Id of this request, or the caller's own.",
        "schema": {"type": "string"},
    }
}
SIGNATURE: Final[Node] = {
    "Airbough-Signature": {
        "description": "Where this server signs: a detached JWS (RFC 7515, appendix F; Ed25519) whose payload is the "
        'JSON text `{"answer":A,"path":P,"request":R}` without spaces. A and R are the unpadded base64url SHA-256 of '
        "the answer's body and of the request's body (GET: its query), P the path. "
        "The key is in `/.well-known/jwks.json`.",
        "schema": {"type": "string"},
    }
}
RATES: Final[Node] = {
    "RateLimit-Policy": {"description": "Where rates are limited: quota and window.", "schema": {"type": "string"}},
    "RateLimit": {"description": "What is left of the quota, and when it is whole.", "schema": {"type": "string"}},
}
ETAG: Final[Node] = {
    "ETag": {"description": "Changes with the answer; `If-None-Match` is honoured.", "schema": {"type": "string"}},
    "Cache-Control": {"description": "How long a cache may keep the answer.", "schema": {"type": "string"}},
}
FINDINGS_HEADER: Final[Node] = {
    "Findings": {"description": "Codes of the answer's findings, separated by commas; left out where there are none.",
                 "schema": {"type": "string"}}
}  # fmt: skip
MOVED: Final[Node] = {"Location": {"description": "The address to go to.", "schema": {"type": "string"}}}
REFUSAL: Final[Node] = {
    "Retry-After": {"description": "Seconds to wait.", "schema": {"type": "integer"}},
    "Allow": {"description": "Methods of this path.", "schema": {"type": "string"}},
    "WWW-Authenticate": {"description": "How to send a key.", "schema": {"type": "string"}},
}
HOW: Final[list[Node]] = [
    {
        "name": "format",
        "in": "query",
        "description": "The answer's format; wins over `Accept`.",
        "schema": {"type": "string", "enum": list(FORMATS)},
    },
    {
        "name": "value",
        "in": "query",
        "description": "Path of one value of the answer, such as `air.density`; the answer is its text alone. "
        "`findings` gives the codes.",
        "schema": {"type": "string", "minLength": 1, "maxLength": 200},
    },
    {
        "name": "errors",
        "in": "query",
        "description": "`cell`: a refusal is answered with status 200 as the text `#ERR path: reason`.",
        "schema": {"type": "string", "enum": ["cell"]},
    },
    {
        "name": "decimal",
        "in": "query",
        "description": "The decimal mark of the numbers in this query; the other mark before exactly three digits is "
        "then refused. Left out: a point, or one comma that cannot part thousands.",
        "schema": {"type": "string", "enum": list(DECIMALS)},
    },
]
