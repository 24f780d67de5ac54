"""How a call of the list becomes a method of a client: one line each, typed by the call."""

from __future__ import annotations

import inspect
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar, overload

from msgspec import Struct, structs

from airbough.calls import Call
from airbough.reply import Reply
from airbough.travel import exchange
from airbough.travel.exchange import Written
from airbough.wire.places import metas_of, places_of

Request = TypeVar("Request", bound=Struct)
Answer = TypeVar("Answer", bound=Struct)


def signature(call: Call[Request, Answer], *words: str) -> inspect.Signature:
    """Return a call's keywords as its request struct has them, for editors and `help`."""
    given = [inspect.Parameter(word, inspect.Parameter.POSITIONAL_ONLY, annotation=str) for word in words]
    request = inspect.Parameter("request", inspect.Parameter.POSITIONAL_ONLY, annotation=call.request, default=None)
    fields = [
        inspect.Parameter(
            told.name,
            inspect.Parameter.KEYWORD_ONLY,
            annotation=told.type,
            default=inspect.Parameter.empty if told.required else told.default,
        )
        for told in structs.fields(call.request)
    ]
    return inspect.Signature([*given, request, *fields], return_annotation=call.answer)


_DOCUMENTED: dict[tuple[str, str], Any] = {}


def documented(kind: Any, call: Call[Any, Any]) -> Any:
    """Return a class of askings that says in its docstring what a call takes, for `help`; made once."""
    key = kind.__name__, call.name
    if key not in _DOCUMENTED:
        names = {"__doc__": described(call), "__slots__": (), "__module__": kind.__module__}
        _DOCUMENTED[key] = type(kind.__name__, (kind,), names)
    return _DOCUMENTED[key]


def described(call: Call[Any, Any]) -> str:
    """Return what a call takes, field by field."""
    request: type[Struct] = call.request
    first, *_ = (request.__doc__ or "").strip().split("\n\n")
    told = [f"{call.method} {call.path}: {' '.join(first.split())}", ""]
    for name, place in places_of(request).items():
        said = dict.fromkeys(meta.description for meta in metas_of(place.annotation) if meta.description)
        told.append(f"    {name}: {' '.join(said)}".rstrip())
    return "\n".join(told)


class Sender(Protocol):
    """What answers questions."""

    def send(self, call: Call[Request, Answer], request: Request, path_words: tuple[str, ...]) -> Reply[Answer]:
        """Return the reply to a question."""
        ...


class AsyncSender(Protocol):
    """What answers questions asynchronously."""

    async def send(self, call: Call[Request, Answer], request: Request, path_words: tuple[str, ...]) -> Reply[Answer]:
        """Return the reply to a question."""
        ...


@dataclass(frozen=True, slots=True)
class Asking(Generic[Request, Answer]):
    """`client.balance(tree)` gives the answer, `client.balance.reply(tree)` the raw reply.

    The request is a struct, a plain document, or keywords; or a tree, with what else is asked of it as keywords.
    """

    sender: Sender
    call: Call[Request, Answer]

    @property
    def __signature__(self) -> inspect.Signature:
        return signature(self.call)

    def __call__(self, request: Request | Written | None = None, /, **words: object) -> Answer:
        """Return the answer; raises an `AirboughError` where there is none."""
        return self.reply(request, **words).answer()

    def reply(self, request: Request | Written | None = None, /, **words: object) -> Reply[Answer]:
        """Return the reply: status, headers, request id, body."""
        return self.sender.send(self.call, exchange.asked(self.call, request, words), ())


@dataclass(frozen=True, slots=True)
class AskingAbout(Generic[Request, Answer]):
    """As `Asking`, for a call whose path holds a word: `client.fitting("elbow", units="us")`."""

    sender: Sender
    call: Call[Request, Answer]

    @property
    def __signature__(self) -> inspect.Signature:
        return signature(self.call, "word")

    def __call__(self, word: str, request: Request | Written | None = None, /, **words: object) -> Answer:
        """Return the answer; raises an `AirboughError` where there is none."""
        return self.reply(word, request, **words).answer()

    def reply(self, word: str, request: Request | Written | None = None, /, **words: object) -> Reply[Answer]:
        """Return the reply: status, headers, request id, body."""
        return self.sender.send(self.call, exchange.asked(self.call, request, words), (word,))


@dataclass(frozen=True, slots=True)
class AsyncAsking(Generic[Request, Answer]):
    """As `Asking`, to be awaited."""

    sender: AsyncSender
    call: Call[Request, Answer]

    @property
    def __signature__(self) -> inspect.Signature:
        return signature(self.call)

    async def __call__(self, request: Request | Written | None = None, /, **words: object) -> Answer:
        """Return the answer; raises an `AirboughError` where there is none."""
        return (await self.reply(request, **words)).answer()

    async def reply(self, request: Request | Written | None = None, /, **words: object) -> Reply[Answer]:
        """Return the reply: status, headers, request id, body."""
        return await self.sender.send(self.call, exchange.asked(self.call, request, words), ())


@dataclass(frozen=True, slots=True)
class AsyncAskingAbout(Generic[Request, Answer]):
    """As `AskingAbout`, to be awaited."""

    sender: AsyncSender
    call: Call[Request, Answer]

    @property
    def __signature__(self) -> inspect.Signature:
        return signature(self.call, "word")

    async def __call__(self, word: str, request: Request | Written | None = None, /, **words: object) -> Answer:
        """Return the answer; raises an `AirboughError` where there is none."""
        return (await self.reply(word, request, **words)).answer()

    async def reply(self, word: str, request: Request | Written | None = None, /, **words: object) -> Reply[Answer]:
        """Return the reply: status, headers, request id, body."""
        return await self.sender.send(self.call, exchange.asked(self.call, request, words), (word,))


@dataclass(frozen=True, slots=True)
class Question(Generic[Request, Answer]):
    """The descriptor of a call without words in its path."""

    call: Call[Request, Answer]

    @overload
    def __get__(self, sender: None, owner: type) -> Question[Request, Answer]: ...
    @overload
    def __get__(self, sender: Sender, owner: type) -> Asking[Request, Answer]: ...
    def __get__(self, sender: Sender | None, owner: type) -> Question[Request, Answer] | Asking[Request, Answer]:
        return self if sender is None else documented(Asking, self.call)(sender, self.call)


@dataclass(frozen=True, slots=True)
class QuestionAbout(Generic[Request, Answer]):
    """The descriptor of a call with one word in its path."""

    call: Call[Request, Answer]

    @overload
    def __get__(self, sender: None, owner: type) -> QuestionAbout[Request, Answer]: ...
    @overload
    def __get__(self, sender: Sender, owner: type) -> AskingAbout[Request, Answer]: ...
    def __get__(
        self, sender: Sender | None, owner: type
    ) -> QuestionAbout[Request, Answer] | AskingAbout[Request, Answer]:
        return self if sender is None else documented(AskingAbout, self.call)(sender, self.call)


@dataclass(frozen=True, slots=True)
class AsyncQuestion(Generic[Request, Answer]):
    """The descriptor of a call without words in its path, to be awaited."""

    call: Call[Request, Answer]

    @overload
    def __get__(self, sender: None, owner: type) -> AsyncQuestion[Request, Answer]: ...
    @overload
    def __get__(self, sender: AsyncSender, owner: type) -> AsyncAsking[Request, Answer]: ...
    def __get__(
        self, sender: AsyncSender | None, owner: type
    ) -> AsyncQuestion[Request, Answer] | AsyncAsking[Request, Answer]:
        return self if sender is None else documented(AsyncAsking, self.call)(sender, self.call)


@dataclass(frozen=True, slots=True)
class AsyncQuestionAbout(Generic[Request, Answer]):
    """The descriptor of a call with one word in its path, to be awaited."""

    call: Call[Request, Answer]

    @overload
    def __get__(self, sender: None, owner: type) -> AsyncQuestionAbout[Request, Answer]: ...
    @overload
    def __get__(self, sender: AsyncSender, owner: type) -> AsyncAskingAbout[Request, Answer]: ...
    def __get__(
        self, sender: AsyncSender | None, owner: type
    ) -> AsyncQuestionAbout[Request, Answer] | AsyncAskingAbout[Request, Answer]:
        return self if sender is None else documented(AsyncAskingAbout, self.call)(sender, self.call)
