"""Whether the service lives and is ready: ready once the compiled solver is warm."""

from __future__ import annotations

import importlib
from dataclasses import dataclass


@dataclass(slots=True)
class Readiness:
    """Whether questions can be answered at full speed."""

    ready: bool = False

    def warm(self) -> None:
        """Compile or load the solver's loops, then be ready."""
        solver = importlib.import_module("airbough_service.core.solver")
        solver.warm()
        self.ready = True
