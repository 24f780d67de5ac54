"""Every setting of the service, read once from the environment (`AIRBOUGH_*`)."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Annotated, Any, Final, Literal, TypeAlias, get_type_hints

import msgspec
from msgspec import Meta

PREFIX: Final = "AIRBOUGH_"
OF_THE_CLIENT: Final = frozenset({"AIRBOUGH_BASE_URL", "AIRBOUGH_API_KEY"})
"""Read by the SDK, which may run in the same environment."""


Count: TypeAlias = Annotated[int, Meta(ge=1, le=1_000_000_000)]
CountOrNone: TypeAlias = Annotated[int, Meta(ge=0, le=1_000_000_000)]
Seconds: TypeAlias = Annotated[float, Meta(gt=0.0, le=86_400.0)]
LogLevel: TypeAlias = Literal["debug", "info", "warning", "error"]


class SettingError(Exception):
    """Settings of the environment that cannot be read."""


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings; each is read from `AIRBOUGH_` and its name in capitals.

    Attributes:
        host: address to listen on.
        port: port to listen on; 0 takes a free one.
        workers: processes that serve.
        listen_when_ready: whether to take connections only once all questions can be answered, for proxies that tell a
            living instance by its connections alone. Otherwise, where the solver must first be compiled, the service
            listens at once and tells questions 503 until what they need is.
        body_limit: most bytes of a request's body.
        batch_body_limit: most bytes of a batch's body.
        read_timeout: seconds in which a request's head must have arrived, and then its body; a connection that is not
            used for so long is closed.
        write_timeout: seconds in which the reader of a batch's answer must take the next piece of it (64 kB).
        compute_timeout: seconds from its turn on after which a question is given up with 503, a line of a batch after
            three times as many; and seconds that it waits for its turn.
        heavy_requests: questions computed at the same time; further ones wait their turn, but for those of callers who
            have none under way: for them there are as many threads again.
        heavy_waiting: questions that may wait their turn; further ones are told 503.
        runs_limit: most runs of one tree.
        states_limit: most states of the gates, or variants of a tree, in one question.
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
    port: Annotated[int, Meta(ge=0, le=65_535)] = 8000
    workers: Annotated[int, Meta(ge=1, le=1_000)] = 1
    listen_when_ready: bool = False
    body_limit: Count = 4_000_000
    batch_body_limit: Count = 100_000_000
    read_timeout: Seconds = 15.0
    write_timeout: Seconds = 30.0
    compute_timeout: Seconds = 10.0
    heavy_requests: Annotated[int, Meta(ge=1, le=1_000)] = 2
    heavy_waiting: CountOrNone = 64
    runs_limit: Count = 10_000
    states_limit: Count = 50_000
    samples_limit: Count = 10_000
    batch_lines_limit: Count = 100_000
    batches: CountOrNone = 4
    keys_file: str = ""
    public_unprotected: bool = False
    allowed_origins: str = ""
    rate: Annotated[float, Meta(ge=0.0, le=1.0e9)] = 0.0
    burst: Count = 1_000
    rate_store: str = ""
    trusted_proxies: str = ""
    signing_key_file: str = ""
    trace_endpoint: str = ""
    log_level: LogLevel = "info"


def from_environment(environment: Mapping[str, str] | None = None) -> Settings:
    """Return the settings, defaults where the environment says nothing.

    Raises:
        SettingError: naming every variable that cannot be read, is outside its range, or that no setting has.
    """
    given = os.environ if environment is None else environment
    types = get_type_hints(Settings, include_extras=True)
    names = {PREFIX + field.name.upper(): field.name for field in fields(Settings)}
    values: dict[str, Any] = {}
    wrong: list[str] = []
    for variable, name in names.items():
        if variable in given:
            try:
                values[name] = _read(given[variable], types[name])
            except msgspec.ValidationError as error:
                wrong.append(f"{variable}: `{given[variable]}`: {error}")
    unknown = {name for name in given if name.startswith(PREFIX)} - {*names, *OF_THE_CLIENT}
    if unknown:
        wrong.append(f"no such setting: {', '.join(sorted(unknown))}")
    if wrong:
        raise SettingError("\n".join(wrong))
    return Settings(**values)


def _read(text: str, wanted: Any) -> Any:
    if wanted is bool:
        text = {"yes": "true", "no": "false", "": "false"}.get(text.lower(), text)
    return msgspec.convert(text, wanted, strict=False)
