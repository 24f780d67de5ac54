"""What ties a quote to the stock that it was made from."""

from __future__ import annotations

from typing import Any, Final

import msgspec
import rfc8785

from airbough.wire.signature import digest as of_bytes
from airbough.wire.stock import Stock

_SENT: Final = "sent"


def keep_sent(stock: Stock, text: bytes) -> None:
    """Keep the text of a stock as it was sent: what the struct leaves out, such as null, is in its digest."""
    stock.__dict__[_SENT] = text


def digest(stock: Stock) -> str:
    """Return the SHA-256 of a stock in the canonical form of RFC 8785, as unpadded base64url.

    One that did not come as text is taken as the SDK writes it: without what is left out or at its default.
    """
    text = stock.__dict__.get(_SENT)
    data: Any = msgspec.to_builtins(stock) if text is None else msgspec.json.decode(text)
    return of_bytes(rfc8785.dumps(data))
