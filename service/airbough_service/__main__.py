"""`python -m airbough_service`: serve."""

from __future__ import annotations

import argparse
import atexit
import http.client
import os
import shutil
import socket
import sys
import tempfile
import threading
import time
from typing import Any, Final

from granian import Granian
from granian.constants import Interfaces

from airbough_service.api.admission.guard import check_protection
from airbough_service.api.settings import (
    PREFIX,
    SettingError,
    Settings,
    from_environment,
)

_LOG: Final[dict[str, Any]] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"generic": {"()": "logging.Formatter", "fmt": "[%(levelname)s] %(message)s"}},
    "handlers": {"console": {"formatter": "generic", "class": "logging.StreamHandler", "stream": "ext://sys.stderr"}},
    "loggers": {"_granian": {"handlers": ["console"], "level": "WARNING", "propagate": False}},
}
_READY_SECONDS: Final = 120.0


def main() -> int:
    """Serve until a signal ends it; say on standard output once that the service is ready."""
    try:
        settings = _settings()
        check_protection(settings)
    except SettingError as error:
        print(error, file=sys.stderr)
        return 2
    os.environ |= {PREFIX + "HOST": settings.host, PREFIX + "PORT": str(settings.port)}
    os.environ[PREFIX + "WORKERS"] = str(settings.workers)
    if settings.workers > 1:
        _count_together()
    server = Granian(
        "airbough_service.api.app:create_app",
        factory=True,
        address=settings.host,
        port=settings.port,
        workers=settings.workers,
        interface=Interfaces.ASGI,
        websockets=False,
        log_dictconfig=_LOG,
        log_level="warning",  # type: ignore[arg-type]  # the enumeration's own word
        workers_kill_timeout=10,
    )
    server.on_startup(lambda: threading.Thread(target=_say_when_ready, args=(settings,), daemon=True).start())
    server.serve()
    return 0


def _settings() -> Settings:
    """Return the environment's settings with those of the command line over them; port 0 becomes a free port."""
    given = from_environment()
    parser = argparse.ArgumentParser(prog="python -m airbough_service", description="Serve Airbough.")
    parser.add_argument("--host", default=given.host, help="address to listen on (default: %(default)s)")
    parser.add_argument("--port", type=int, default=given.port, help="port; 0 takes a free one (default: %(default)s)")
    parser.add_argument("--workers", type=int, default=given.workers, help="serving processes (default: %(default)s)")
    chosen = parser.parse_args()
    environment = {name: text for name, text in os.environ.items() if name.startswith(PREFIX)}
    environment |= {PREFIX + "HOST": chosen.host, PREFIX + "WORKERS": str(chosen.workers)}
    environment[PREFIX + "PORT"] = str(chosen.port or _free_port(chosen.host))
    return from_environment(environment)


def _count_together() -> None:
    """Let the workers keep their counters in one folder, so that `/metrics` of any tells the sum of all."""
    if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
        folder = os.environ["PROMETHEUS_MULTIPROC_DIR"] = tempfile.mkdtemp(prefix="airbough-metrics-")
        atexit.register(shutil.rmtree, folder, ignore_errors=True)


def _free_port(host: str) -> int:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.bind((host, 0))
        return int(probe.getsockname()[1])


def _say_when_ready(settings: Settings) -> None:
    reached = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(settings.host, settings.host)
    until = time.monotonic() + _READY_SECONDS
    while time.monotonic() < until:
        if _ready(reached, settings.port):
            shown = f"[{reached}]" if ":" in reached else reached
            print(f"Airbough is ready on http://{shown}:{settings.port} (docs at /docs)", flush=True)
            return
        time.sleep(0.1)
    print("Airbough did not become ready", file=sys.stderr)


def _ready(host: str, port: int) -> bool:
    connection = http.client.HTTPConnection(host, port, timeout=2)
    try:
        connection.request("GET", "/health/ready")
        return connection.getresponse().status == 200
    except OSError:
        return False
    finally:
        connection.close()


if __name__ == "__main__":
    sys.exit(main())
