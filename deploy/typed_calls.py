"""Rewrites sdk/airbough/typed_calls.py: every question of the clients with its keywords, for type checkers and editors.

Run it after a change of the wire or of the calls; a test compares.
"""

from __future__ import annotations

import subprocess
import sys
import textwrap
import types
import typing
from collections import defaultdict
from collections.abc import Set
from pathlib import Path
from typing import Any, Final

import msgspec
from msgspec import Struct

from airbough.calls import CALLS, Call
from airbough.wire.places import metas_of
from airbough.wire.tree import Tree

PLACE: Final = Path(__file__).parents[1] / "sdk" / "airbough" / "typed_calls.py"

_HEAD: Final = '''"""Every question with its keywords, for type checkers and editors; nothing imports this at run time.

Made by deploy/typed_calls.py; not to be changed by hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal, Protocol, Required, TypeAlias, TypedDict, Unpack, overload

from airbough.reply import Reply
{imports}

Document: TypeAlias = Mapping[str, object]
"""A request, or a part of one, as a plain table."""


class WithUnit(Protocol):
    """A quantity of pint."""

    @property
    def magnitude(self) -> Any:
        """The number."""
    @property
    def units(self) -> Any:
        """The unit."""


Quantity: TypeAlias = float | str | WithUnit
"""A number in the preset's unit, or a text or a quantity with its own."""
'''


def text() -> str:
    """Return the module's text."""
    made = _Made()
    words = [made.words("Tree", Tree), *(part for call in _requests() for part in made.words_of(call))]
    questions = [made.question(call, awaited) for call in CALLS for awaited in (False, True)]
    clients = [_client(awaited) for awaited in (False, True)]
    imports = "\n".join(
        f"from {module} import {', '.join(sorted(made.imports[module]))}" for module in sorted(made.imports)
    )
    return _formatted("\n\n".join([_HEAD.format(imports=imports), *words, *questions, *clients]) + "\n")


def _requests() -> list[Call[Any, Any]]:
    """Return a call for each request."""
    return list({call.request: call for call in CALLS}.values())


class _Made:
    """What was made so far: the names to import, by module."""

    def __init__(self) -> None:
        self.imports: defaultdict[str, set[str]] = defaultdict(set)

    def words_of(self, call: Call[Any, Any]) -> list[str]:
        """Return the keywords of a request; of one about trees in two parts, for a tree may be given as a whole."""
        name, said = _name(call), f'    """Fields of `{call.request.__name__}`."""\n'
        if not issubclass(call.request, Tree):
            return [self.words(name, call.request)]
        own = self.words(f"{name}Own", call.request, {field.name for field in msgspec.structs.fields(Tree)})
        return [own, f"class {name}Words(TreeWords, {name}OwnWords, total=False):\n{said}"]

    def words(self, name: str, request: type[Struct], but: Set[str] = frozenset()) -> str:
        """Return fields of a struct as keywords."""
        lines = [f"class {name}Words(TypedDict, total=False):", f'    """Fields of `{request.__name__}`."""', ""]
        for field in (field for field in msgspec.structs.fields(request) if field.name not in but):
            told = self.type(field.type)
            lines.append(f"    {field.name}: {f'Required[{told}]' if field.required else told}")
            hint = typing.get_type_hints(request, include_extras=True)[field.name]
            said = " ".join(dict.fromkeys(meta.description for meta in metas_of(hint) if meta.description))
            if said:
                lines.append(textwrap.indent(_docstring(said), "    "))
        return "\n".join(lines) + "\n"

    def question(self, call: Call[Any, Any], awaited: bool) -> str:
        """Return the class of one question."""
        answer = self.named(call.answer)
        said = f"`{call.method} {call.path}`{', to be awaited' if awaited else ''}."
        lines = [f"class {_class(call, awaited)}(Protocol):", f'    """{said}"""', ""]
        for name, told in (("__call__", answer), ("reply", f"Reply[{answer}]")):
            lines += self._method(call, name, told, "async " if awaited else "")
        return "\n".join(lines) + "\n"

    def _method(self, call: Call[Any, Any], name: str, told: str, before: str) -> list[str]:
        paths = "".join(f"{word}: str, " for word in call.path_words)
        whole = f"self, {paths}request: {self.named(call.request)} | Document, /"
        ways = [whole, f"self, {paths}{'/, ' if paths else ''}**words: Unpack[{_name(call)}Words]"]
        if issubclass(call.request, Tree):
            ways.append(f"self, tree: {self.named(Tree)} | Document, /, **words: Unpack[{_name(call)}OwnWords]")
        lines = []
        for given in ways:
            lines += ["    @overload", f"    {before}def {name}({given}) -> {told}: ..."]
        return lines

    def type(self, annotation: Any) -> str:
        """Return an annotation as a caller may fill it: lists as sequences, structs as plain tables too."""
        if typing.get_origin(annotation) is typing.Annotated:
            if any(isinstance(note, msgspec.Meta) and "kind" in (note.extra or {}) for note in annotation.__metadata__):
                inner = self.type(annotation.__origin__)
                return "Quantity | None" if "None" in inner else "Quantity"
            return self.type(annotation.__origin__)
        origin, inside = typing.get_origin(annotation), typing.get_args(annotation)
        if origin in (typing.Union, types.UnionType):
            return " | ".join(dict.fromkeys(part for member in inside for part in self.type(member).split(" | ")))
        if origin is tuple or origin is list:
            return f"Sequence[{self.type(inside[0])}]"
        if origin is dict:
            return f"Mapping[str, {self.type(inside[1])}]"
        if origin is typing.Literal:
            return f"Literal[{', '.join(map(repr, inside))}]"
        if annotation is type(None):
            return "None"
        if isinstance(annotation, type) and issubclass(annotation, Struct):
            return f"{self.named(annotation)} | Document"
        return "Any" if annotation is Any else annotation.__name__

    def named(self, struct: type[Struct]) -> str:
        """Return a struct's name, and import it."""
        self.imports[struct.__module__].add(struct.__name__)
        return struct.__name__


def _name(call: Call[Any, Any]) -> str:
    return call.request.__name__.removesuffix("Request")


def _class(call: Call[Any, Any], awaited: bool) -> str:
    name = "".join(part.title() for part in call.name.split("-"))
    return f"{'Async' if awaited else ''}{name}Question"


def _client(awaited: bool) -> str:
    said = "Every question as a method" + (" to be awaited." if awaited else ".")
    lines = [f"class {'Async' if awaited else ''}Questions:", f'    """{said}"""', ""]
    lines += [f"    {call.method_name}: {_class(call, awaited)}" for call in CALLS]
    return "\n".join(lines) + "\n"


def _docstring(said: str) -> str:
    """Return a description as a docstring, wrapped; one line to begin with."""
    plain = said.replace("\\", "\\\\").replace('"""', "'''")
    return "\n".join(textwrap.wrap(f'"""{plain}"""', 110))


def _formatted(raw: str) -> str:
    command = [sys.executable, "-m", "ruff", "format", "--stdin-filename", str(PLACE), "-"]
    done = subprocess.run(command, input=raw, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stderr)
    return done.stdout


if __name__ == "__main__":
    made = text()
    PLACE.write_text(made, "utf-8")
    print(f"{PLACE.name}: {len(made.splitlines())} lines")
