"""Pure physics in SI units: numpy and numba, no web, no text for humans.

numba's cache notices a change only in a function's own file, so a kernel that calls a changed helper would run on with
stale machine code. The cache therefore gets a folder named after the digest of the compiled sources, unless the caller
set one (NUMBA_CACHE_DIR), in which case a new version wants a new folder.
"""

import hashlib
from pathlib import Path

import numba

_HERE = Path(__file__).parent


def _digest() -> str:
    """Return a digest of the core's compiled sources and of the columns that they take as constants."""
    digest = hashlib.sha256()
    for path in sorted(_HERE.rglob("*.py")):
        text = path.read_bytes()
        if b"njit" in text or path.name in ("columns.py", "work.py"):
            digest.update(str(path.relative_to(_HERE)).encode() + b"\0" + text)
    return digest.hexdigest()[:16]


if not numba.config.CACHE_DIR:  # type: ignore[attr-defined]  # numba fills its config at run time
    numba.config.CACHE_DIR = str(_HERE / "__pycache__" / f"kernel-{_digest()}")  # type: ignore[attr-defined]
