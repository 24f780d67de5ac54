"""The command `airbough`: ask, check, report and draw from a terminal; needs the extra `command`."""

from __future__ import annotations

import sys


def run() -> None:
    """Run the command; the entry point of the distribution."""
    try:
        from airbough.command.main import app
    except ModuleNotFoundError as missing:
        if (missing.name or "").split(".")[0] in ("airbough", ""):
            raise
        sys.exit(f"the command needs {missing.name}: pip install 'airbough[command]'")
    app()
