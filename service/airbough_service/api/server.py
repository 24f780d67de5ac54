"""The processes that serve: one that holds the port and watches, and workers that answer.

The port is bound once, before anything else, by the watching process and for it alone: a taken port ends the start,
and whoever answers on it is a worker of this start. The workers begin to listen when they are warm; where the solver
must first be compiled they listen at once, and refuse questions until it is, unless told to listen only when ready. One
that dies is replaced while the others go on; all of them end when the watching process does, however that came about.
"""

from __future__ import annotations

import contextlib
import http.client
import multiprocessing
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

from granian.constants import HTTPModes, Interfaces
from granian.http import HTTP1Settings
from granian.log import LogLevels
from granian.net import SocketHolder  # type: ignore[attr-defined]  # not in its stubs
from granian.server.mp import MPServer

from airbough_service.api.settings import Settings

STOP_SECONDS: Final = 30
"""What is under way when the service is told to stop has so long."""

_BACKLOG: Final = 1024
_UNREAD_SECONDS: Final = 30.0
"""So much longer than the patience with a batch's reader a connection is kept whose other side takes nothing."""

_LOOK_SECONDS: Final = 0.2
_SWITCH_SECONDS: Final = 0.001
"""So long a thread computes on while another waits; the usual 5 ms, for each of four, is felt by light questions."""

_LOG: Final[dict[str, Any]] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"generic": {"()": "logging.Formatter", "fmt": "[%(levelname)s] %(message)s"}},
    "handlers": {"console": {"formatter": "generic", "class": "logging.StreamHandler", "stream": "ext://sys.stderr"}},
    "loggers": {"_granian": {"handlers": ["console"], "level": "WARNING", "propagate": False}},
}


class PortTakenError(Exception):
    """The address cannot be listened on."""


def bound(settings: Settings) -> socket.socket:
    """Return a socket that has the settings' address and port, and does not listen yet.

    Raises:
        PortTakenError: where another process has them, or there is no such address.
    """
    try:
        found = socket.getaddrinfo(settings.host, settings.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        family, kind, protocol, _, address = found[0]
        held = socket.socket(family, kind, protocol)
        held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # past connections may still be winding down
        if hasattr(socket, "TCP_USER_TIMEOUT"):
            # Each connection inherits it: the server below keeps one for ever whose reader takes nothing any more. The
            # application notices sooner, where it still has pieces to send, and tells of it.
            seconds = settings.write_timeout + _UNREAD_SECONDS
            held.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, round(1000 * seconds))
        held.bind(address)
    except OSError as error:
        raise PortTakenError(f"cannot listen on {settings.host}, port {settings.port}: {error.strerror}") from None
    held.set_inheritable(True)
    return held


def serve(settings: Settings, held: socket.socket, application: Callable[[Settings], Any]) -> None:
    """Serve until a signal ends it; say on standard output once that the service is ready.

    Args:
        settings: the settings, checked.
        held: the socket from `bound`.
        application: makes the application, in each worker; a signal ends it at any moment.

    Raises:
        SystemExit: status 1, where workers die again and again.
    """
    settings = replace(settings, port=held.getsockname()[1])
    if "fork" in multiprocessing.get_all_start_methods():
        multiprocessing.set_start_method("fork", force=True)
    server = _Server(
        "airbough",
        address=settings.host,
        port=settings.port,
        workers=settings.workers,
        interface=Interfaces.ASGI,
        http=HTTPModes.http1,
        http1_settings=HTTP1Settings(header_read_timeout=round(1000 * settings.read_timeout)),
        websockets=False,
        backlog=_BACKLOG,
        log_dictconfig=_LOG,
        log_level=LogLevels.warning,
        respawn_failed_workers=True,
        workers_kill_timeout=STOP_SECONDS,
    )
    server.held, server.watching = held, os.getpid()
    ready = _Ready(settings)
    server.on_startup(lambda: threading.Thread(target=ready.say, daemon=True).start())

    def load() -> Any:
        sys.setswitchinterval(_SWITCH_SECONDS)
        threading.Thread(target=_end_with, args=(server.watching,), daemon=True).start()
        return application(settings)

    server.serve(target_loader=load, wrap_loader=False)


class _Server(MPServer):
    """The library's server, with a socket of ours that all workers share."""

    held: socket.socket
    watching: int

    def signal_handler_interrupt(self, *given: Any, **named: Any) -> None:
        """Stop; a worker that does not listen yet still has this handler, and has nothing to finish.

        It ends when the watching process tells it to, not by the key that interrupts both: its end would be a failure.
        """
        if os.getpid() == self.watching:
            super().signal_handler_interrupt(*given, **named)  # type: ignore[no-untyped-call]
        elif given[0] != signal.SIGINT:
            os._exit(0)

    def _init_shared_socket(self) -> None:
        self._shd = SocketHolder(self.held.fileno(), False, self.backlog)  # type: ignore[assignment,call-arg]  # not in its stubs
        self._sso = self.held


def _end_with(watching: int) -> None:
    """Stop this worker when the process that started it is gone: it may have been killed, and cannot say so."""
    while os.getppid() == watching:
        time.sleep(_LOOK_SECONDS)
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(STOP_SECONDS)
    os._exit(1)


class _Ready:
    """Says when the service is ready: the port is ours alone, so whoever answers on it is one of our workers."""

    def __init__(self, settings: Settings) -> None:
        self._host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(settings.host, settings.host)
        self._port = settings.port

    def say(self) -> None:
        """Wait until a worker is ready, and say so."""
        begun = time.monotonic()
        while not self._answers():
            time.sleep(min(1.0, max(0.1, 0.03 * (time.monotonic() - begun))))  # each look is a line of the log
        shown = f"[{self._host}]" if ":" in self._host else self._host
        sys.stdout.write(f"Airbough is ready on http://{shown}:{self._port} (docs at /docs)\n")
        sys.stdout.flush()

    def _answers(self) -> bool:
        connection = http.client.HTTPConnection(self._host, self._port, timeout=2)
        with contextlib.suppress(OSError, http.client.HTTPException):
            connection.request("GET", "/health/ready")
            return connection.getresponse().status == 200
        connection.close()
        return False
