"""Cautions by their ids."""

from __future__ import annotations

from airbough_service import catalogue


def cautions(*ids: str) -> tuple[str, ...]:
    """Return the texts of cautions in the order asked, each once."""
    return tuple(caution.text for caution in catalogue.cautions(*ids))
