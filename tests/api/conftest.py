from collections.abc import Iterator

import pytest
from litestar.testing import TestClient

from airbough_service.api.app import create_app
from airbough_service.api.settings import Settings


@pytest.fixture(scope="session")
def client() -> Iterator[TestClient]:
    with TestClient(create_app(Settings())) as started:
        yield started
