"""An invented price list for the demonstration: diameters of 4 to 8 in., no 3 in., prices in no real currency."""

from __future__ import annotations

from itertools import product
from typing import Any

BORES = (4.0, 5.0, 6.0, 7.0, 8.0)
WYES = (30.0, 45.0, 90.0)
DUCT_PRICE = {4.0: 1.9, 5.0: 2.4, 6.0: 2.9, 7.0: 3.6, 8.0: 4.4}


def stock(*, pieces: bool = False) -> dict[str, Any]:
    """Return what can be bought, dearer as it gets wider.

    `pieces`: pipe in lengths of 5 ft with its ends, for cuts and joints; else by the foot.
    """
    ends = {"upstream_end": "receives", "downstream_end": "enters", "turnable": True}
    by_piece = {"piece_length": 5.0, "duct": "spiral-galvanized", **ends} if pieces else {}
    return {
        "currency": "invented money",
        "ducts": [
            {"item": f"pipe-{bore:g}", "diameter": bore, "price_per_length": str(price), **by_piece}
            for bore, price in DUCT_PRICE.items()
        ],
        "gates": [{"item": f"gate-{bore:g}", "diameter": bore, "price": f"{9.0 + bore:.2f}"} for bore in BORES],
        "fittings": [
            *(
                {"item": f"elbow-{bore:g}", "type": "elbow", "angle": 90.0, "diameter": bore, "price": 3.0 * bore}
                for bore in BORES
            ),
            *(
                {"item": f"taper-{small:g}-{large:g}", "type": "taper", "diameter": small,
                 "downstream_diameter": large, "price": 2.0 * large}
                for small, large in product(BORES, BORES)
                if small < large
            ),
            *(
                {"item": f"wye-{main:g}-{side:g}-{angle:g}", "type": "wye", "diameter": main,
                 "branch_diameter": side, "angle": angle, "price": 5.0 * main}
                for main, side, angle in product(BORES, BORES, WYES)
                if side <= main
            ),
        ],
    }  # fmt: skip
