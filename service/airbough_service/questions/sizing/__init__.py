"""POST /v1/trees/sizing: the diameters of a tree, chosen from what the caller can buy."""

from airbough_service.questions.sizing.question import answer

__all__ = ["answer"]
