"""Origins of web pages, as browsers send them."""

from __future__ import annotations

import re
from typing import Final

_ORIGIN: Final = re.compile(
    r"https?://(\*\.)?([a-z0-9-]+\.)*[a-z0-9-]+(:[0-9]{1,5})?|https?://\[[0-9a-f:.]+\](:[0-9]{1,5})?"
)
_DEFAULT_PORT: Final = re.compile(r"(http://.*:80|https://.*:443)")


def fault(origin: str) -> str | None:
    """Return what is wrong with an origin and what is right; None where browsers send it so."""
    if _ORIGIN.fullmatch(origin) and not _DEFAULT_PORT.fullmatch(origin):
        return None
    return f"`{origin}` is no origin as browsers send it; {_advice(origin)}"


def _advice(origin: str) -> str:
    scheme, _, rest = origin.lower().rpartition("://")
    host = rest.partition("/")[0]
    plain = re.sub(r":80$" if scheme == "http" else r":443$", "", host)
    better = f"{scheme or 'https'}://{plain}"
    return f"write `{better}`" if _ORIGIN.fullmatch(better) else "write `https://` and a host"
