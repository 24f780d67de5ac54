"""How a solve ended: plain integers, so that compiled code can use them as constants."""

from __future__ import annotations

from typing import Final

OK: Final = 0
NO_FLOW: Final = 1
BEYOND_HIGH: Final = 2
BEYOND_LOW: Final = 3
NOT_CONVERGED: Final = 4
