"""The clients: each call of the list in one line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from airbough.calls import CALLS
from airbough.signatures import GivenKeys
from airbough.travel import transport
from airbough.travel.methods import (
    AsyncQuestion,
    AsyncQuestionAbout,
    Question,
    QuestionAbout,
)
from airbough.travel.retry import RETRIES, Policy
from airbough.travel.senders import (
    AsyncHttpSender,
    HttpSender,
    settings,
)
from airbough.travel.transport import (
    AsyncHttp,
    SyncHttp,
    Timeouts,
)

if TYPE_CHECKING:
    from airbough.typed_calls import AsyncQuestions as AsyncQuestions
    from airbough.typed_calls import Questions as Questions
else:

    class Questions:
        """Every call as a method."""

    class AsyncQuestions:
        """Every call as a method to be awaited."""

    for _call in CALLS:
        setattr(Questions, _call.method_name, (QuestionAbout if _call.path_words else Question)(_call))
        setattr(AsyncQuestions, _call.method_name, (AsyncQuestionAbout if _call.path_words else AsyncQuestion)(_call))


class Client(HttpSender, Questions):
    """Asks a service over HTTP.

    Args:
        base_url: address of the service; left out: that of `http_client`, AIRBOUGH_BASE_URL, or this machine at 8000.
        api_key: left out: AIRBOUGH_API_KEY.
        timeouts: seconds for the parts of one try.
        retries: tries after the first, where another try may help; by default they outlast a restart of the service,
            and are two as long as nobody has ever answered.
        deadline: seconds for a call with all its tries; None for no end.
        headers: sent with every request.
        http_client: the caller's own `httpx.Client`, which stays open.
        verify_with: public keys (JWK, JWKS or a file of either) of a service that signs; every answer whose signature
            does not hold then raises `SignatureRefused`. Refusals are not signed. Needs the extra `signing`.

    Raises:
        ValueError: where the base URL is none, or `verify_with` holds no public keys.
    """

    def __init__(
        self,
        base_url: str | None = None,
        *,
        api_key: str | None = None,
        timeouts: Timeouts | None = None,
        retries: int = RETRIES,
        deadline: float | None = 120.0,
        headers: Mapping[str, str] | None = None,
        http_client: SyncHttp | None = None,
        verify_with: GivenKeys | None = None,
    ) -> None:
        policy = Policy(retries=retries, deadline=deadline)
        own_base = str(http_client.base_url) if http_client is not None else ""
        chosen = settings(base_url, api_key, timeouts or Timeouts(), policy, headers, own_base, verify_with)
        super().__init__(http_client or transport.open_sync(), http_client is None, chosen)


class AsyncClient(AsyncHttpSender, AsyncQuestions):
    """Asks a service over HTTP, asynchronously; takes what `Client` takes, and an `httpx.AsyncClient`."""

    def __init__(
        self,
        base_url: str | None = None,
        *,
        api_key: str | None = None,
        timeouts: Timeouts | None = None,
        retries: int = RETRIES,
        deadline: float | None = 120.0,
        headers: Mapping[str, str] | None = None,
        http_client: AsyncHttp | None = None,
        verify_with: GivenKeys | None = None,
    ) -> None:
        policy = Policy(retries=retries, deadline=deadline)
        own_base = str(http_client.base_url) if http_client is not None else ""
        chosen = settings(base_url, api_key, timeouts or Timeouts(), policy, headers, own_base, verify_with)
        super().__init__(http_client or transport.open_async(), http_client is None, chosen)
