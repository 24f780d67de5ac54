"""Where compiled loops are kept between processes, and whether they are.

They are kept in one folder and nowhere else: numba by itself would take another, whose name knows nothing of a change
in a loop's helper. Where the folder takes nothing, because it cannot be written to or its disk is full, a process goes
on with what it compiles for itself. What a loss of power left torn there is compiled anew.
"""

from __future__ import annotations

import contextlib
import errno
import pickle
import tempfile
from pathlib import Path
from typing import Any, Final

from numba.core.caching import FunctionCache
from numba.misc.appdirs import AppDirs

from airbough_service.core.turns import turn

_LOST: Final[list[OSError]] = []
_TORN: Final = (EOFError, pickle.UnpicklingError)  # what reading a file raises that is not whole


def not_kept() -> OSError | None:
    """Return why this process could not keep something that it compiled, or cannot; None where it keeps all."""
    return _LOST[0] if _LOST else None


def folder(chosen: str, beside: Path, name: str) -> Path:
    """Return the folder for compiled loops, made where it was not there.

    Args:
        chosen: in which folder, where somebody has said so.
        beside: in which otherwise; where that cannot be written to, in the user's folder for such things.
        name: its name.
    """
    user: str = AppDirs("airbough", appauthor=False).user_cache_dir  # type: ignore[no-untyped-call]  # numba has no types
    places = [place / name for place in ([Path(chosen)] if chosen else [beside, Path(user)])]
    lost = []
    for place in places:
        try:
            place.mkdir(parents=True, exist_ok=True)
            tempfile.TemporaryFile(dir=place).close()
            return place
        except OSError as error:
            lost.append(error)
    _LOST.append(lost[0])
    return places[0]


_save_overload = FunctionCache.save_overload


def _save_if_there_is_room(self: FunctionCache, sig: Any, data: Any) -> None:
    """Keep a loop, one process after the other; where that fails, numba would let the question fail that came to it.

    Two that keep a function for unlike arguments at once would number both alike: each argument's name would then stand
    for the machine code of the one written last, in every process that loads it.
    """
    try:
        with turn("keeping", wait=True):
            _save_overload(self, sig, data)  # type: ignore[no-untyped-call]  # as above
    except OSError as error:
        _LOST.append(error)
    except _TORN as error:  # the index is so still, as it could not be written anew below
        _LOST.append(OSError(errno.EIO, str(error)))


_load_overload = FunctionCache.load_overload


def _load_if_whole(self: FunctionCache, sig: Any, target_context: Any) -> Any:
    """Load a loop; where a file of its function is torn, forget what is kept of that: numba would go on no further."""
    try:
        return _load_overload(self, sig, target_context)  # type: ignore[no-untyped-call]  # as above
    except _TORN:
        with contextlib.suppress(OSError), turn("keeping", wait=True):
            self.flush()  # type: ignore[no-untyped-call]  # as above
        return None


FunctionCache.load_overload = _load_if_whole  # type: ignore[method-assign, assignment]  # as below
FunctionCache.save_overload = _save_if_there_is_room  # type: ignore[method-assign, assignment]  # it offers no other way
