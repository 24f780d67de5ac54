"""The core's own errors.

CoreError
├── NotATreeError        the runs do not form a duct tree
├── OutsideTableError    a value lies outside what a table or law can answer
└── DidNotConvergeError  the solver found no solution (never seen on a valid tree; kept honest)
"""

from __future__ import annotations


class CoreError(Exception):
    """Base of the core's errors."""


class NotATreeError(CoreError):
    """The runs do not form a duct tree."""


class OutsideTableError(CoreError):
    """A value lies outside what a table or law can answer.

    Attributes:
        name: the axis or parameter.
        value: what was asked.
        low: least value that can be answered.
        high: greatest value that can be answered.
    """

    def __init__(self, name: str, value: float, low: float, high: float) -> None:
        super().__init__(f"{name} {value:g} lies outside {low:g}..{high:g}")
        self.name, self.value, self.low, self.high = name, value, low, high


class DidNotConvergeError(CoreError):
    """The solver found no solution within its iterations."""
