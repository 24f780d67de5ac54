"""POST /v1/outlines/layout: where ducts run at the least price, and what is proven about it."""

from airbough_service.combined.layout.question import answer

__all__ = ["answer"]
