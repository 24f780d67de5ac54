"""What settings say beyond their types and ranges: files that must be there, addresses, origins. All faults at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from airbough_service.api.admission import origins as of_pages
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
        f"AIRBOUGH_ALLOWED_ORIGINS: {wrong}"
        for origin in given
        if origin != "*" and (wrong := of_pages.fault(origin)) is not None
    ]
    if wrong:
        raise SettingError("\n".join(wrong))
    return given


def _keys(settings: Settings) -> None:
    if not settings.keys_file:
        return
    known = Keys(Path(settings.keys_file)).known
    allowed = origins(settings)
    bound = [origin for key in known if key.page for origin in key.page.origins]
    missing = [origin for origin in dict.fromkeys(bound) if not {origin, "*"} & set(allowed)]
    if missing:
        told = ", ".join(f"`{origin}`" for origin in missing)
        raise SettingError(
            f"AIRBOUGH_ALLOWED_ORIGINS: add {told}: a key of the file is bound to it, whose pages could read no answer"
        )


def _callers(settings: Settings) -> None:
    Callers(settings.trusted_proxies)


def _rates(settings: Settings) -> None:
    over_replicas(settings, Rates(settings) if settings.rate > 0 else None)


def _signer(settings: Settings) -> None:
    if settings.signing_key_file:
        Signer(Path(settings.signing_key_file))


def _traces(settings: Settings) -> None:
    tracing.check(settings.trace_endpoint)
