"""Whether the service lives and is ready: ready once the compiled solver is warm."""

from __future__ import annotations

from dataclasses import dataclass

from airbough_service.core.warm import warm


@dataclass(slots=True)
class Readiness:
    """Whether questions can be answered at full speed."""

    ready: bool = False

    def warm(self) -> None:
        """Compile or load the solver's loops, then be ready."""
        warm()
        self.ready = True
