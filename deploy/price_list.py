"""An invented price list for the demonstration: diameters of 4 to 8 in., no 3 in., prices in no real currency."""

from __future__ import annotations

from itertools import product
from typing import Any

BORES = (4.0, 5.0, 6.0, 7.0, 8.0)
WYES = (30.0, 45.0, 90.0)
DUCT_PRICE = {4.0: 1.9, 5.0: 2.4, 6.0: 2.9, 7.0: 3.6, 8.0: 4.4}


def sizing_stock() -> dict[str, Any]:
    """Return what can be bought, for the sizing question; prices grow with the diameter."""
    return {
        "ducts": [{"diameter": bore, "price_per_length": price} for bore, price in DUCT_PRICE.items()],
        "gates": [{"diameter": bore, "price": 9.0 + bore} for bore in BORES],
        "fittings": [
            *({"type": "elbow", "angle": 90.0, "diameter": bore, "price": 3.0 * bore} for bore in BORES),
            *(
                {"type": "taper", "diameter": small, "downstream_diameter": large, "price": 2.0 * large}
                for small, large in product(BORES, BORES)
                if small < large
            ),
            *(
                {"type": "wye", "diameter": main, "branch_diameter": side, "angle": angle, "price": 5.0 * main}
                for main, side, angle in product(BORES, BORES, WYES)
                if side <= main
            ),
        ],
    }


def parts_list_stock() -> list[dict[str, Any]]:
    """Return pipe in lengths of 5 ft, hose, gates, elbows and supplies, for the parts list question."""
    pipes = [
        {
            "kind": "pipe",
            "item": f"spiral pipe {bore:g} in, 5 ft",
            "diameter": bore,
            "duct": "spiral-galvanized",
            "piece_length": 5.0,
            "upstream_end": "receives",
            "downstream_end": "enters",
            "turnable": True,
            "price": 5.0 * price,
        }
        for bore, price in DUCT_PRICE.items()
    ]
    gates = [
        {
            "kind": "gate",
            "item": f"slide gate {bore:g} in",
            "diameter": bore,
            "upstream_end": "receives",
            "downstream_end": "receives",
            "price": 9.0 + bore,
        }
        for bore in BORES
    ]
    return [*pipes, *gates]
