"""How each operation is asked in curl, Python and JavaScript. The tests run every one of them as the pages show it."""

from __future__ import annotations

from typing import Any, Final
from urllib.parse import urlencode

from airbough.calls import CALLS
from airbough.wire import batch
from airbough_service.api.document.pages.contents import Operation
from airbough_service.api.document.pages.literals import JAVASCRIPT, JSON, PYTHON, written

ADDRESS: Final = "http://127.0.0.1:8000"
"""The service's address in the samples; the page's script puts its own in place of it."""

LANGUAGES: Final = ("curl", "Python", "JavaScript")

_CALLS: Final = {call.name: call for call in CALLS}
_KEY: Final = '-H "Authorization: Bearer $AIRBOUGH_API_KEY"'
_TELLING: Final = {
    "air": "air.density",
    "friction-loss": "friction_loss",
    "velocity-check": "holds velocity",
    "fittings": "fittings[0].title",
    "fitting": "fitting.title",
    "fitting-loss": "coefficient loss",
    "ducts": "ducts[0].id",
    "dusts": "dusts[0].id",
    "hoods": "machines[0].id",
    "sources": "bibliography[0].title",
    "balance": "system.flow system.governing_path",
    "operating-point": "outcome system.flow",
    "working-day": "system.starts system.time_fan_on",
    "gate-states": "system.states system.failing",
    "drawing": "svg",
    "sizing": "outcome price",
    "strength": "shut_off_suction",
    "make-up-air": "room.make_up_flow",
    "traverse": "flow",
    "hood-static-pressure": "flow",
    "parts-list": "system.price system.currency",
    "quote": "price currency expires",
    "diagnosis": "outcome suspects[0].suspect",
    "compare": "runs_added",
    "variants": 'names columns["system.flow"]',
    "outline": "tree.runs[0].id tree.runs[0].diameter",
    "outline-template": "csv",
    "layout": "outcome layouts[0].price",
}
"""Operation -> what a first look at its answer would tell, as Python and JavaScript both write it."""


def sample(operation: Operation, language: str) -> str:
    """Return the code that asks an operation's example."""
    return {"curl": _curl, "Python": _python, "JavaScript": _javascript}[language](operation)


def example(operation: Operation) -> Any:
    """Return the example of an operation's body; None where it has no body."""
    content = operation.node.get("requestBody", {}).get("content", {})
    return next(iter(content.values()))["example"] if content else None


def _curl(operation: Operation) -> str:
    body, lines = example(operation), [f'curl "{_address(operation)}"']
    if _takes_key(operation):
        lines.append(f"  {_KEY}")
    if body is None:
        return " \\\n".join(lines) + "\n"
    media, sent = "application/json", written(body, JSON) + "\n"
    if operation.path == batch.PATH:
        media, sent = batch.MEDIA_TYPE, "".join(written(line, JSON, width=10**6) + "\n" for line in body)
    lines += [f'  -H "Content-Type: {media}"', "  --data-binary @- <<'END'"]
    return " \\\n".join(lines) + f"\n{sent}END\n"


def _python(operation: Operation) -> str:
    head = f'import airbough\n\nclient = airbough.Client("{ADDRESS}")  # its key: AIRBOUGH_API_KEY\n'
    if operation.path == batch.PATH:
        lines = ",\n".join(
            f'    ("{line["id"]}", "{line["question"]}", {written(line["request"], PYTHON, 1)})'
            for line in example(operation)
        )
        return (
            f"{head}lines = [\n{lines},\n]\nfor result in client.batch(lines):\n"
            "    print(result.id, result.error or result.answer.flow)\n"
        )
    call = _CALLS.get(operation.name)
    if call is None:
        return _plain_python(operation)
    words, fields = _given(operation)
    given = [f'"{word}"' for word in words.values()]
    if call.method == "GET":
        given += [f"{name}={written(value, PYTHON)}" for name, value in fields.items()]
    else:
        given.append(written(example(operation), PYTHON))
    return f"{head}answer = client.{call.method_name}({', '.join(given)})\nprint({_told(operation)})\n"


def _plain_python(operation: Operation) -> str:
    address = f'"{_address(operation)}"'
    if not _takes_key(operation):
        return f"import httpx\n\nanswer = httpx.get({address})\nprint(answer.status_code, answer.text)\n"
    return (
        'import os\n\nimport httpx\n\nkey = os.environ.get("AIRBOUGH_API_KEY", "")\n'
        f'answer = httpx.get({address}, headers={{"Authorization": f"Bearer {{key}}"}})\n'
        "print(answer.status_code, answer.text)\n"
    )


def _javascript(operation: Operation) -> str:
    head = (
        'import { Client } from "./airbough.js"; // sdk/js\n\n'
        f'const client = new Client({{ url: "{ADDRESS}", key: process.env.AIRBOUGH_API_KEY }});\n'
    )
    if operation.path == batch.PATH:
        lines = written(example(operation), JAVASCRIPT)
        return (
            f"{head}const lines = {lines};\nfor await (const result of client.batch(lines)) {{\n"
            "  console.log(result.id, result.problem ?? result.answer.flow);\n}\n"
        )
    if operation.name not in _CALLS:
        return _plain_javascript(operation)
    words, fields = _given(operation)
    body = example(operation)
    given = [f'"{operation.name}"', written(fields if body is None else body, JAVASCRIPT)]
    given += [f'{{ word: "{word}" }}' for word in words.values()]
    return f"{head}const answer = await client.ask({', '.join(given)});\nconsole.log({_told(operation)});\n"


def _plain_javascript(operation: Operation) -> str:
    address = f'"{_address(operation)}"'
    if not _takes_key(operation):
        asked = f"const answer = await fetch({address});\n"
    else:
        asked = (
            'const key = process.env.AIRBOUGH_API_KEY ?? "";\n'
            f"const answer = await fetch({address}, {{ headers: {{ authorization: `Bearer ${{key}}` }} }});\n"
        )
    return asked + "console.log(answer.status, await answer.text());\n"


def _told(operation: Operation) -> str:
    return ", ".join(f"answer.{place}" for place in _TELLING[operation.name].split())


def _address(operation: Operation) -> str:
    words, fields = _given(operation)
    path = operation.path
    for name, word in words.items():
        path = path.replace(f"{{{name}}}", word)
    return f"{ADDRESS}{path}" + (f"?{urlencode(fields)}" if fields else "")


def _given(operation: Operation) -> tuple[dict[str, str], dict[str, Any]]:
    """Return the example's words in the path and fields of the query."""
    found: dict[str, dict[str, Any]] = {"path": {}, "query": {}}
    for parameter in operation.node.get("parameters", ()):
        if "example" in parameter:
            found[parameter["in"]][parameter["name"]] = parameter["example"]
    return found["path"], found["query"]


def _takes_key(operation: Operation) -> bool:
    """Return whether an operation asks for a key where the server has some."""
    return {"key": []} in operation.node.get("security", [{"key": []}])
