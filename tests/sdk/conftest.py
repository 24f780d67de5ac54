from __future__ import annotations

import msgspec
import pytest

AIR_ANSWER = msgspec.json.encode(
    {
        "units": {"density": "lb/ft^3", "viscosity": "lb/(ft*s)"},
        "preset": "us",
        "air": {"density": 0.0749, "viscosity": 1.2e-5, "standard": True},
    }
)


@pytest.fixture(autouse=True)
def _no_settings_from_outside(monkeypatch):
    monkeypatch.delenv("AIRBOUGH_BASE_URL", raising=False)
    monkeypatch.delenv("AIRBOUGH_API_KEY", raising=False)


@pytest.fixture
def air_answer() -> bytes:
    return AIR_ANSWER


@pytest.fixture
def shop() -> dict[str, object]:
    """An invented shop of two machines."""
    return {
        "units": "us",
        "name": "invented shop",
        "dust": "shavings",
        "runs": [
            {"id": "main", "into": None, "diameter": 7, "length": 14, "duct": "spiral-galvanized"},
            {
                "id": "saw",
                "into": "main",
                "join": {"type": "branch", "angle": 45},
                "diameter": 4,
                "length": 6,
                "duct": "spiral-galvanized",
                "fittings": [{"type": "elbow", "angle": 90, "radius_ratio": 1.5}],
                "hood": {"flow": 400, "entry": {"type": "plain-opening"}},
                "gate": {"opening": 1.0},
            },
            {
                "id": "planer",
                "into": "main",
                "join": {"type": "straight", "taper_length": 6},
                "diameter": "6 in",
                "length": 8,
                "duct": "spiral-galvanized",
                "hood": {"flow": 785, "entry": {"type": "flanged-opening"}},
                "gate": {"opening": 1.0},
            },
        ],
        "collector": {
            "fan": {
                "curve": [
                    {"flow": 0, "pressure": 11.5},
                    {"flow": 600, "pressure": 11.0},
                    {"flow": 1200, "pressure": 8.5},
                    {"flow": 1600, "pressure": 5.0},
                    {"flow": 2600, "pressure": 0},
                ],
                "rated_as": "fan-static",
            }
        },
    }
