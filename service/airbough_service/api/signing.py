"""Signed answers: a detached JWS (RFC 7515, appendix F) that ties an answer to its request.

The payload is not sent: `airbough.wire.signature.payload` makes it anew from the request and the answer as they were
on the wire. `python -m airbough_service.api.signing` makes a private key; with `--public FILE` it prints the public
keys.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from airbough.wire.signature import (
    ALGORITHM,
    HEADER,
    payload,
)
from airbough_service.api.settings import SettingError

if TYPE_CHECKING:
    from joserfc.jwk import OKPKey

__all__ = ["HEADER", "Signer", "payload"]


class Signer:
    """Signs with the private key of a file: a JWK (Ed25519), or a JWKS whose first key signs.

    The further keys of a set, private or public, are only published: while callers still hold answers that an earlier
    key has signed, and before a new key takes over.
    """

    def __init__(self, path: Path) -> None:
        try:
            from joserfc import errors, jwk, jws
        except ImportError:
            raise SettingError("signed answers need joserfc: install airbough-service[signing]") from None
        try:
            document = json.loads(path.read_text("utf-8"))
            given = document.get("keys", [document])
            self._keys = [jwk.OKPKey.import_key(dict(key)) for key in given]
            self._key = self._keys[0]
            self._key.get_op_key("sign")
            if {key.curve_name for key in self._keys} != {ALGORITHM}:
                raise ValueError
        except (OSError, ValueError, TypeError, LookupError, AttributeError, errors.JoseError) as error:
            raise SettingError(
                f"AIRBOUGH_SIGNING_KEY_FILE: `{path.name}`: no private {ALGORITHM} key ({type(error).__name__})"
            ) from None
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
        return {"keys": [_public(key) for key in self._keys]}


def _public(key: OKPKey) -> dict[str, Any]:
    told = key.as_dict(private=False)
    return {name: told[name] for name in ("kty", "crv", "x")} | {
        "kid": key.thumbprint(),
        "alg": ALGORITHM,
        "use": "sig",
    }


def main(arguments: Sequence[str] | None = None) -> None:
    """Make a private key and write it to standard output; or the public keys of a file, for those who check."""
    parser = argparse.ArgumentParser(
        prog="python -m airbough_service.api.signing", description="Make a private key that signs answers."
    )
    parser.add_argument("--public", metavar="FILE", type=Path, help="print the public keys (JWKS) of this file instead")
    file: Path | None = parser.parse_args(arguments).public
    if file is None:
        from joserfc import jwk

        told = dict(jwk.OKPKey.generate_key(ALGORITHM).as_dict(private=True))
    else:
        try:
            told = Signer(file).public_keys()
        except SettingError as error:
            raise SystemExit(str(error)) from None
    sys.stdout.write(json.dumps(told) + "\n")


if __name__ == "__main__":
    main()
