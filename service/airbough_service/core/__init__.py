"""Pure physics in SI units: numpy and numba, no web, no text for humans.

numba's cache notices a change only in a function's own file, so a kernel that calls a changed helper would run on with
stale machine code. The cache therefore gets a folder named after the digest of the compiled sources, in the one that
the caller set (NUMBA_CACHE_DIR) where there is one; and no other where that takes nothing. By the place of the sources
and their times, which numba goes by, it is a folder of its own, too: what it is noted to hold can then be found in it.
"""

import hashlib
from pathlib import Path

import numba

from airbough_service.core import kept

_HERE = Path(__file__).parent
_CONSTANTS = ("columns.py", "status.py", "sites.py", "compiled.py", "limits.py")  # of which machine code takes numbers


def compiled_sources() -> list[Path]:
    """Return the sources that machine code is made of: those with compiled functions, and those of their constants."""
    every = sorted(_HERE.rglob("*.py"))
    return [path for path in every if b"core.compiled import" in path.read_bytes() or path.name in _CONSTANTS]


def _digest() -> str:
    """Return a digest of the core's compiled sources, their place and their times."""
    digest = hashlib.sha256()
    for path in compiled_sources():
        digest.update(f"{path.absolute()}\0{path.stat().st_mtime_ns}\0".encode() + path.read_bytes())
    return digest.hexdigest()[:16]


_SET: str = numba.config.CACHE_DIR  # type: ignore[attr-defined]  # numba fills its config at run time
numba.config.CACHE_DIR = str(kept.folder(_SET, _HERE / "__pycache__", f"kernel-{_digest()}"))  # type: ignore[attr-defined]
