"""What a signature covers, and where it is told: the same for the service that signs and the client that checks."""

from __future__ import annotations

import hashlib
import json
from base64 import urlsafe_b64encode
from typing import Final

HEADER: Final = "airbough-signature"
ALGORITHM: Final = "Ed25519"  # RFC 9864


def payload(path: str, question: bytes, answer: bytes) -> bytes:
    """Return what is signed: JSON without spaces, keys in this order, digests as unpadded base64url of SHA-256.

    Args:
        path: the request's path.
        question: a POST's body, or a GET's query as it was sent.
        answer: the answer's body.
    """
    said = {"answer": digest(answer), "path": path, "request": digest(question)}
    return json.dumps(said, separators=(",", ":"), ensure_ascii=False).encode()


def digest(data: bytes) -> str:
    """Return the SHA-256 of bytes as unpadded base64url."""
    return urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b"=").decode()
