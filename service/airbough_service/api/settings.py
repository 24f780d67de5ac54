"""Every setting of the service, read once from the environment (`AIRBOUGH_*`)."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from typing import Any, Final

PREFIX: Final = "AIRBOUGH_"
OF_THE_CLIENT: Final = frozenset({"AIRBOUGH_BASE_URL", "AIRBOUGH_API_KEY"})
"""Read by the SDK, which may run in the same environment."""


class SettingError(Exception):
    """A setting of the environment that cannot be read."""


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings; each is read from `AIRBOUGH_` and its name in capitals.

    Attributes:
        host: address to listen on.
        port: port to listen on; 0 takes a free one.
        workers: processes that serve.
        body_limit: most bytes of a request's body.
        batch_body_limit: most bytes of a batch's body.
        read_timeout: seconds in which a body must have arrived.
        compute_timeout: seconds after which a question, or a line of a batch, is given up with 503; its turn counts.
        heavy_requests: questions computed at the same time; further ones wait their turn.
        heavy_waiting: questions that may wait their turn; further ones are told 503.
        runs_limit: most runs of one tree.
        states_limit: most states of the gates in one question.
        samples_limit: most samples of an uncertainty.
        batch_lines_limit: most lines of a batch.
        batches: batches answered at the same time; further ones are told 503.
        keys_file: file of API keys (name and hash a line); empty: no key is asked for.
        public_unprotected: whether to start without keys on an address that others can reach.
        allowed_origins: origins of web pages that may read answers, separated by commas.
        rate: requests a second that each key (without keys: each address) may send; 0: no limit.
        burst: requests that may come at once before `rate` holds.
        rate_store: address (`redis://`) of a store that several replicas count in; empty: each process counts alone.
        trusted_proxies: addresses or networks, separated by commas, whose `X-Forwarded-For` is heeded.
        signing_key_file: a private key (JWK) to sign answers with; empty: answers are not signed.
        trace_endpoint: address of an OpenTelemetry collector (OTLP over HTTP); empty: no traces.
        log_level: `debug`, `info`, `warning` or `error`.
    """

    host: str = "127.0.0.1"
    port: int = 8000
    workers: int = 1
    body_limit: int = 4_000_000
    batch_body_limit: int = 100_000_000
    read_timeout: float = 15.0
    compute_timeout: float = 10.0
    heavy_requests: int = 2
    heavy_waiting: int = 64
    runs_limit: int = 10_000
    states_limit: int = 50_000
    samples_limit: int = 10_000
    batch_lines_limit: int = 100_000
    batches: int = 4
    keys_file: str = ""
    public_unprotected: bool = False
    allowed_origins: str = ""
    rate: float = 0.0
    burst: int = 1_000
    rate_store: str = ""
    trusted_proxies: str = ""
    signing_key_file: str = ""
    trace_endpoint: str = ""
    log_level: str = "info"


def _flag(text: str) -> bool:
    if text.lower() in ("1", "true", "yes"):
        return True
    if text.lower() in ("0", "false", "no", ""):
        return False
    raise ValueError(text)


_READERS: Final[dict[str, Callable[[str], Any]]] = {"int": int, "float": float, "str": str, "bool": _flag}


def from_environment(environment: Mapping[str, str] | None = None) -> Settings:
    """Return the settings, defaults where the environment says nothing.

    Raises:
        SettingError: naming the variable that cannot be read, or that no setting has.
    """
    given = os.environ if environment is None else environment
    values: dict[str, Any] = {}
    for field in fields(Settings):
        text = given.get(PREFIX + field.name.upper())
        if text is None:
            continue
        try:
            values[field.name] = _READERS[str(field.type)](text)
        except ValueError:
            raise SettingError(f"{PREFIX}{field.name.upper()}: cannot read `{text}` as {field.type}") from None
    known = {PREFIX + field.name.upper() for field in fields(Settings)} | OF_THE_CLIENT
    unknown = {name for name in given if name.startswith(PREFIX)} - known
    if unknown:
        raise SettingError(f"no such setting: {', '.join(sorted(unknown))}")
    return Settings(**values)
