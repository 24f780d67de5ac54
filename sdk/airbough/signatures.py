"""Signed answers: whether an answer comes from a service whose public key is known, and belongs to its question.

A seller's server that a buyer's browser hands a question with its answer asks `opened`; a client made with
`verify_with` asks for every answer it gets. Needs the extra `signing`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

import msgspec
from msgspec import Struct

from airbough.calls import Call
from airbough.errors import (
    NotUnderstood,
    SignatureRefused,
)
from airbough.raw_reply import Raw
from airbough.reply import Reply
from airbough.wire.known import known
from airbough.wire.signature import (
    ALGORITHM,
    HEADER,
    digest,
    payload,
)
from airbough.wire.stock import Stock

if TYPE_CHECKING:
    from joserfc.jwk import OKPKey
    from joserfc.jws import CompactSignature

Request = TypeVar("Request", bound=Struct)
Answer = TypeVar("Answer", bound=Struct)


def stock_digest(stock: Stock | Mapping[str, Any]) -> str:
    """Return what a quote from this stock bears as `stock_digest`: SHA-256 of its form by RFC 8785, base64url.

    Args:
        stock: a plain table just as it is sent to the service; a struct as the clients send it.

    Raises:
        ImportError: where the extra `signing` is not installed.
    """
    try:
        import rfc8785
    except ImportError:
        raise ImportError("a stock's digest needs rfc8785: pip install 'airbough[signing]'") from None
    sent: Any = msgspec.to_builtins(stock) if isinstance(stock, Stock) else stock
    return digest(rfc8785.dumps(sent))


class PublicKeys:
    """Public keys by their ids; the old and the new one while a service changes its key.

    Args:
        given: a key (JWK), a set of them (JWKS), or the path of a file that holds either.

    Raises:
        ImportError: where the extra `signing` is not installed.
        ValueError: where `given` holds no Ed25519 public key, a private one, or two keys of one id.
        OSError: where the file cannot be read.
    """

    def __init__(self, given: Mapping[str, Any] | str | Path) -> None:
        try:
            from joserfc import errors, jws
        except ImportError:
            raise ImportError("checking signatures needs joserfc: pip install 'airbough[signing]'") from None
        self._jws, self._error = jws, errors.JoseError
        document = given if isinstance(given, Mapping) else _read(Path(given))
        keys = document.get("keys", [document])
        self._by_id: dict[str, OKPKey] = {}
        for number, key in enumerate(keys if isinstance(keys, list | tuple) else [None]):
            name, read = self._key(key, number)
            if name in self._by_id:
                raise ValueError(f"two keys have the id {name!r}")
            self._by_id[name] = read
        if not self._by_id:
            raise ValueError("no public key is given")

    def __repr__(self) -> str:
        return f"PublicKeys({sorted(self._by_id)})"

    def _key(self, key: Any, number: int) -> tuple[str, OKPKey]:
        from joserfc.jwk import OKPKey

        if isinstance(key, Mapping) and "d" in key:
            raise ValueError(f"key {number} is a private one; give the public one")
        try:
            read = OKPKey.import_key(dict(key))
            if read.curve_name != ALGORITHM:
                raise ValueError(read.curve_name)
        except (ValueError, TypeError, KeyError, AttributeError, self._error) as error:
            raise ValueError(f"key {number} is no {ALGORITHM} public key ({type(error).__name__})") from None
        return str(key.get("kid") or read.thumbprint()), read

    def check(
        self, answer: bytes, signature: str | None, *, path: str, question: bytes, raw: Raw | None = None
    ) -> None:
        """Do nothing where the signature holds for this answer to this question at this path.

        Args:
            answer: the answer's body, byte for byte.
            signature: the header `Airbough-Signature`; None or empty where there was none.
            path: the path that was asked, without the base URL's own.
            question: the request's body, or the query of a GET, byte for byte.
            raw: the reply, to go with the exception.

        Raises:
            SignatureRefused: where it is missing, by an unknown key, or does not hold.
        """
        if not signature:
            raise SignatureRefused("the answer is not signed", raw)
        if len(parts := signature.split(".")) != 3 or parts[1]:
            raise SignatureRefused("the signature is no detached JWS", raw)
        try:
            self._jws.deserialize_compact(
                signature, self._of, algorithms=[ALGORITHM], payload=payload(path, question, answer)
            )
        except _UnknownKeyError:
            raise SignatureRefused("the answer is signed with a key that is not among the given ones", raw) from None
        except (self._error, ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
            told = "the signature does not hold: answer, request, path or signature were altered"
            raise SignatureRefused(f"{told} ({type(error).__name__})", raw) from None

    def _of(self, signed: Any) -> OKPKey:
        found: CompactSignature = signed
        key = self._by_id.get(str(found.headers().get("kid")))
        if key is None:
            raise _UnknownKeyError
        return key


class _UnknownKeyError(Exception):
    pass


GivenKeys: TypeAlias = PublicKeys | Mapping[str, Any] | str | Path


def public_keys(given: GivenKeys) -> PublicKeys:
    """Return the keys, read where they are not yet; raises as `PublicKeys` does."""
    return given if isinstance(given, PublicKeys) else PublicKeys(given)


def _read(path: Path) -> Mapping[str, Any]:
    try:
        document = json.loads(path.read_text("utf-8"))
    except ValueError:
        document = None
    if not isinstance(document, dict):
        raise ValueError(f"{path.name} is no JWK and no JWKS")
    return document


def verify(answer: bytes, signature: str | None, keys: GivenKeys, *, path: str, request: bytes) -> None:
    """Do nothing where the signature holds; arguments and errors are those of `PublicKeys.check`."""
    public_keys(keys).check(answer, signature, path=path, question=request)


def verify_reply(reply: Reply[Answer], keys: GivenKeys) -> None:
    """Do nothing where a reply's signature holds for what was asked; raises as `PublicKeys.check` does."""
    raw = reply.raw
    checked = public_keys(keys)
    checked.check(raw.content, raw.headers.get(HEADER), path=raw.path, question=raw.question, raw=raw)


def opened(
    call: Call[Request, Answer], request: bytes, answer: bytes, signature: str | None, keys: GivenKeys
) -> tuple[Request, Answer]:
    """Return question and answer that someone else hands over, once the signature holds for both.

    It tells that this service gave this answer to this question; whether it is the question that matters is for the
    caller to judge.

    Args:
        call: a POST of `airbough.calls`; nothing else is believed about the path.
        request: the request's body, byte for byte.
        answer: the answer's body (JSON), byte for byte.
        signature: the header `Airbough-Signature` of the answer.
        keys: the public keys that are trusted.

    Raises:
        SignatureRefused: where the signature does not hold.
        NotUnderstood: where it holds and a body is of another version's shape.
        ValueError: where the call is a GET.
    """
    if call.method != "POST":
        raise ValueError(f"{call.name} is asked by a query: use `verify`")
    verify(answer, signature, keys, path=call.path, request=request)
    try:
        return msgspec.json.decode(request, type=known(call.request)), msgspec.json.decode(
            answer, type=known(call.answer)
        )
    except (msgspec.MsgspecError, UnicodeDecodeError) as error:
        raise NotUnderstood(f"signed, and not a question and answer of {call.name}: {error}") from None
