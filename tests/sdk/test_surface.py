"""The public surface is a list, and these tests read it."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from msgspec import Struct

import airbough
import airbough.wire
from airbough.calls import CALLS
from airbough.travel.methods import (
    AsyncQuestion,
    AsyncQuestionAbout,
    Question,
    QuestionAbout,
)

FOLDER = Path(airbough.__file__).parent
BY_BATCH = {"batches"}
"""Calls that `batch` makes, not a method of their own."""


def wire_structs() -> dict[str, type]:
    found = {}
    for module in pkgutil.iter_modules(airbough.wire.__path__):
        for name, value in vars(importlib.import_module(f"airbough.wire.{module.name}")).items():
            if isinstance(value, type) and issubclass(value, Struct) and not name.startswith("_"):
                found[name] = value
    return {name: value for name, value in found.items() if name not in ("Asked", "Told", "Struct")}


def test_the_public_list_is_sorted_and_each_name_exists():
    assert airbough.__all__ == sorted(set(airbough.__all__))
    assert [name for name in airbough.__all__ if not hasattr(airbough, name)] == []


def test_the_version_is_the_distributions():
    described = tomllib.loads((FOLDER.parent / "pyproject.toml").read_text())
    assert airbough.__version__ == described["project"]["version"]


def test_each_wire_struct_can_be_had_at_the_top():
    missing = [name for name, struct in wire_structs().items() if getattr(airbough, name, None) is not struct]
    assert missing == [], f"add to airbough/__init__.py: {missing}"


@pytest.mark.parametrize("call", [call for call in CALLS if call.name not in BY_BATCH], ids=lambda call: call.name)
@pytest.mark.parametrize(
    ("client", "kinds"),
    [
        (airbough.Client, (Question, QuestionAbout)),
        (airbough.AsyncClient, (AsyncQuestion, AsyncQuestionAbout)),
        (airbough.Local, (Question, QuestionAbout)),
    ],
    ids=["Client", "AsyncClient", "Local"],
)
def test_each_call_is_a_method_of_each_client(call, client, kinds):
    question = getattr(client, call.name.replace("-", "_"))
    assert question.call is call
    assert isinstance(question, kinds[len(call.path_words)])


@pytest.mark.parametrize("call", CALLS, ids=lambda call: call.name)
def test_a_method_shows_the_fields_of_its_request(call):
    client = airbough.Client("http://air.example")
    shown = inspect.signature(getattr(client, call.name.replace("-", "_")))
    keywords = {name for name, told in shown.parameters.items() if told.kind is told.KEYWORD_ONLY}
    assert keywords == set(call.request.__struct_fields__)
    assert shown.return_annotation is call.answer
    client.close()


def test_both_clients_have_the_same_methods():
    def methods(client):
        return {name for name in dir(client) if not name.startswith("_")}

    assert methods(airbough.Client) == methods(airbough.AsyncClient)
    ours = {"raw"}  # the reply as it would travel, for the command: of a client over the wire it is what arrives
    assert methods(airbough.Local) - ours <= methods(airbough.Client)
    assert list(inspect.signature(airbough.Client).parameters) == list(
        inspect.signature(airbough.AsyncClient).parameters
    )


def test_the_client_loads_neither_numbers_nor_server_nor_pint():
    unwanted = ["airbough_service", "granian", "joserfc", "litestar", "numba", "numpy", "pint", "prometheus_client"]
    code = f"import sys, airbough; print([name for name in {unwanted} if name in sys.modules])"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert told.stdout.strip() == "[]"


def test_the_service_takes_only_what_is_shared():
    """The lint contract lists what is forbidden; a module that is new here would not be in that list."""
    service = FOLDER.parents[1] / "service" / "airbough_service"
    taken = set()
    for path in service.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "airbough":
                taken.add(".".join((node.module or "").split(".")[:2]))
            elif isinstance(node, ast.Import):
                taken |= {alias.name for alias in node.names if alias.name.split(".")[0] == "airbough"}
    assert taken == {"airbough.calls", "airbough.reading", "airbough.wire"}


def test_one_module_knows_the_http_library():
    knowing = set()
    for path in FOLDER.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            if any(name.partition(".")[0] == "httpx" for name in names):
                knowing.add(path.relative_to(FOLDER).as_posix())
    assert knowing == {"travel/transport.py"}


def test_importing_it_loads_neither_a_network_nor_numbers():
    """What takes long to load waits until somebody asks: a script that only reads a document needs none of it."""
    late = ["httpx", "asyncio", "email", "http.client", "ssl", "joserfc", "pint", "numpy", "pandas", "litestar", "rich"]
    told = subprocess.run(
        [sys.executable, "-c", f"import sys, airbough; print([name for name in {late} if name in sys.modules])"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert told.stdout.strip() == "[]"
