"""`python -m airbough_service`: serve."""

from __future__ import annotations

import argparse
import atexit
import functools
import os
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from airbough_service.api import server
from airbough_service.api.settings import (
    PREFIX,
    SettingError,
    Settings,
    from_environment,
)
from airbough_service.api.settings_check import check

BAD_SETTINGS = 2
CANNOT_LISTEN = 1


def main(arguments: Sequence[str] | None = None) -> int:
    """Serve until a signal ends it; return the status of the process."""
    try:
        settings = _settings(arguments)
        check(settings)
        held = server.bound(settings)
    except SettingError as error:
        print(error, file=sys.stderr)
        return BAD_SETTINGS
    except server.PortTakenError as error:
        print(error, file=sys.stderr)
        return CANNOT_LISTEN
    folder = None
    if settings.workers > 1:
        _count_together()
        folder = Path(_folder("airbough-workers-"))
    server.serve(settings, held, functools.partial(_application, folder=folder))
    return 0


def _application(settings: Settings, folder: Path | None) -> Any:
    from airbough_service.api.compilers import Compilers  # in the workers alone

    compilers = Compilers().start()  # ahead of all else that a start takes

    from airbough_service.api.app import create_app

    service = create_app(settings, at_once=not settings.listen_when_ready, folder=folder, compilers=compilers)
    service.get_ready()
    return service


def _settings(arguments: Sequence[str] | None) -> Settings:
    """Return the environment's settings with those of the command line over them."""
    usual = Settings()
    parser = argparse.ArgumentParser(prog="python -m airbough_service", description="Serve Airbough.")
    parser.add_argument("--host", help=f"address to listen on (default: {usual.host})")
    parser.add_argument("--port", help=f"port; 0 takes a free one (default: {usual.port})")
    parser.add_argument("--workers", help=f"serving processes (default: {usual.workers})")
    chosen = vars(parser.parse_args(arguments))
    over = {PREFIX + name.upper(): text for name, text in chosen.items() if text is not None}
    return from_environment({**os.environ, **over})


def _count_together() -> None:
    """Let the workers keep their counters in one folder, so that `/metrics` of any tells the sum of all."""
    if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
        os.environ["PROMETHEUS_MULTIPROC_DIR"] = _folder("airbough-metrics-")


def _folder(prefix: str) -> str:
    """Return a folder for this user alone, which goes when this process ends; its workers leave it."""
    folder, watching = tempfile.mkdtemp(prefix=prefix), os.getpid()

    def remove() -> None:
        if os.getpid() == watching:
            shutil.rmtree(folder, ignore_errors=True)

    atexit.register(remove)
    return folder


if __name__ == "__main__":
    sys.exit(main())
