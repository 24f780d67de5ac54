"""Files that are packages of parts: read, and written again with some parts changed and all others as they were."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from pathlib import Path
from tempfile import NamedTemporaryFile
from zipfile import BadZipFile, ZipFile


def names(path: Path) -> list[str]:
    """Return the names of a package's parts.

    Raises:
        ValueError: it is no such package: another format, or one under a password.
    """
    try:
        with ZipFile(path) as package:
            return package.namelist()
    except BadZipFile:
        detail = "no workbook of this kind: another format under this ending, or one under a password"
        raise ValueError(f"{path.name}: {detail}") from None


def part(path: Path, name: str) -> str:
    """Return a part's text."""
    with ZipFile(path) as package:
        return package.read(name).decode("utf-8")


def rewrite(path: Path, changed: Mapping[str, str]) -> None:
    """Write a package with some parts changed or new; all others byte for byte, in their order; whole or not at all."""
    with ZipFile(path) as old, NamedTemporaryFile(dir=path.parent, suffix=path.suffix, delete=False) as file:
        try:
            with ZipFile(file, "w") as new:
                for info in old.infolist():
                    text = changed.get(info.filename)
                    new.writestr(
                        info, old.read(info) if text is None else text.encode(), compress_type=info.compress_type
                    )
                known = set(old.namelist())
                for name in changed:
                    if name not in known:
                        new.writestr(name, changed[name].encode(), compress_type=8)
            file.close()
            shutil.copymode(path, file.name)
            os.replace(file.name, path)
        except BaseException:
            Path(file.name).unlink(missing_ok=True)
            raise
