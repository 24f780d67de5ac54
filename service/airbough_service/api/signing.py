"""Signed answers: a detached JWS (RFC 7515, appendix F) that ties an answer to its request.

The payload is not sent: `payload` makes it anew from the request and the answer as they were on the wire.
`python -m airbough_service.api.signing` makes a private key.
"""

from __future__ import annotations

import hashlib
import json
import sys
from base64 import urlsafe_b64encode
from pathlib import Path
from typing import Any, Final

from airbough_service.api.settings import SettingError

HEADER: Final = "airbough-signature"
ALGORITHM: Final = "Ed25519"  # RFC 9864


def payload(path: str, question: bytes, answer: bytes) -> bytes:
    """Return what is signed: JSON without spaces, keys in this order, digests as unpadded base64url of SHA-256.

    Args:
        path: the request's path.
        question: a POST's body, or a GET's query as it was sent.
        answer: the answer's body.
    """
    said = {"answer": _digest(answer), "path": path, "request": _digest(question)}
    return json.dumps(said, separators=(",", ":"), ensure_ascii=False).encode()


def _digest(data: bytes) -> str:
    return urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b"=").decode()


class Signer:
    """Signs with the private key of a file (JWK, Ed25519)."""

    def __init__(self, path: Path) -> None:
        try:
            from joserfc import errors, jwk, jws
        except ImportError:
            raise SettingError("signed answers need joserfc: install airbough-service[signing]") from None
        try:
            self._key = jwk.OKPKey.import_key(json.loads(path.read_text("utf-8")))
            self._key.get_op_key("sign")
        except (OSError, ValueError, TypeError, KeyError, AttributeError, errors.JoseError) as error:
            raise SettingError(f"{path.name}: no private Ed25519 key ({type(error).__name__})") from None
        self._jws = jws
        self._protected = {"alg": ALGORITHM, "kid": self._key.thumbprint()}

    def signature(self, path: str, question: bytes, answer: bytes) -> str:
        """Return the detached signature for the answer's header."""
        signed = payload(path, question, answer)
        compact = self._jws.serialize_compact(self._protected, signed, self._key, algorithms=[ALGORITHM])
        protected, _, signature = compact.split(".")
        return f"{protected}..{signature}"

    def public_keys(self) -> dict[str, Any]:
        """Return the key set (JWKS) that checks the signatures."""
        key = dict(self._key.as_dict(private=False))
        return {"keys": [key | {"kid": self._protected["kid"], "alg": ALGORITHM, "use": "sig"}]}


def main() -> None:
    """Make a private key and write it to standard output."""
    from joserfc import jwk

    key = jwk.OKPKey.generate_key("Ed25519")
    sys.stdout.write(json.dumps(key.as_dict(private=True)) + "\n")


if __name__ == "__main__":
    main()
