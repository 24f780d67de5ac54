"""What settings say beyond their types and ranges: files that must be there, addresses, origins. All faults at once."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from airbough_service.api.admission.callers import Callers
from airbough_service.api.admission.guard import check_protection, over_replicas
from airbough_service.api.admission.keys import Keys
from airbough_service.api.admission.rates import Rates
from airbough_service.api.observe import tracing
from airbough_service.api.settings import (
    SettingError,
    Settings,
)
from airbough_service.api.signing import Signer

_ORIGIN: Final = re.compile(
    r"https?://(\*\.)?([a-z0-9-]+\.)*[a-z0-9-]+(:[0-9]{1,5})?|https?://\[[0-9a-f:.]+\](:[0-9]{1,5})?"
)
_DEFAULT_PORT: Final = re.compile(r"(http://.*:80|https://.*:443)")


def check(settings: Settings) -> None:
    """Refuse settings that no service can run with.

    Raises:
        SettingError: with a line for each fault.
    """
    parts: list[Callable[[Settings], Any]] = [check_protection, _keys, _callers, _rates, origins, _signer, _traces]
    wrong = []
    for part in parts:
        try:
            part(settings)
        except SettingError as error:
            wrong += str(error).splitlines()
    if wrong:
        raise SettingError("\n".join(dict.fromkeys(wrong)))


def origins(settings: Settings) -> list[str]:
    """Return the origins whose scripts may read answers.

    Raises:
        SettingError: naming those that no browser sends.
    """
    given = [origin.strip() for origin in settings.allowed_origins.split(",") if origin.strip()]
    wrong = [
        f"AIRBOUGH_ALLOWED_ORIGINS: `{origin}` is no origin as browsers send it; {_advice(origin)}"
        for origin in given
        if origin != "*" and (not _ORIGIN.fullmatch(origin) or _DEFAULT_PORT.fullmatch(origin))
    ]
    if wrong:
        raise SettingError("\n".join(wrong))
    return given


def _advice(origin: str) -> str:
    scheme, _, rest = origin.lower().rpartition("://")
    host = rest.partition("/")[0]
    plain = re.sub(r":80$" if scheme == "http" else r":443$", "", host)
    better = f"{scheme or 'https'}://{plain}"
    return f"write `{better}`" if _ORIGIN.fullmatch(better) else "write `https://` and a host"


def _keys(settings: Settings) -> None:
    if settings.keys_file:
        Keys(Path(settings.keys_file))


def _callers(settings: Settings) -> None:
    Callers(settings.trusted_proxies)


def _rates(settings: Settings) -> None:
    over_replicas(settings, Rates(settings) if settings.rate > 0 else None)


def _signer(settings: Settings) -> None:
    if settings.signing_key_file:
        Signer(Path(settings.signing_key_file))


def _traces(settings: Settings) -> None:
    tracing.check(settings.trace_endpoint)
