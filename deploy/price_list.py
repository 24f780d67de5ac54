"""An invented price list for the demonstration: diameters of 4 to 8 in., no 3 in., prices in no real currency."""

from __future__ import annotations

from itertools import product
from typing import Any

BORES = (4.0, 5.0, 6.0, 7.0, 8.0)
WYES = (30.0, 45.0, 90.0)
DUCT_PRICE = {4.0: 1.9, 5.0: 2.4, 6.0: 2.9, 7.0: 3.6, 8.0: 4.4}


SUPPLIES = [
    {"item": "screws", "use": "screw", "pack": 100, "price": 4},
    {"item": "clamps", "use": "clamp", "price": 2},
    {"item": "hangers", "use": "hanger", "price": 2},
    {"item": "sealant", "use": "sealant", "length": 30, "price": 6},
    {"item": "bonding-wire", "use": "bonding-wire", "length": 50, "price": 9},
]
SLEEVES = [
    {"item": f"{use}-{bore:g}", "use": use, "diameter": bore, "price": 3}
    for use, bore in product(("inner-sleeve", "outer-sleeve"), BORES)
]
ENDS = {"upstream_end": "receives", "downstream_end": "enters", "turnable": True}


def stock(*, pieces: bool = False) -> dict[str, Any]:
    """Return what can be bought, dearer as it gets wider.

    `pieces`: pipe in lengths of 5 ft with its ends, for cuts and joints; else by the foot.
    """
    by_piece = {"piece_length": 5.0, "duct": "spiral-galvanized", **ENDS} if pieces else {}
    ends = ENDS if pieces else {}
    return {
        "currency": "invented money",
        "ducts": [
            *(
                {"item": f"pipe-{bore:g}", "diameter": bore, "price_per_length": str(price), **by_piece}
                for bore, price in DUCT_PRICE.items()
            ),
            *(
                {"item": f"hose-{bore:g}", "diameter": bore, "duct": "flexible-hose-smooth",
                 "price_per_length": f"{0.9 * bore:.2f}"}
                for bore in BORES
                if pieces
            ),
        ],
        "gates": [{"item": f"gate-{bore:g}", "diameter": bore, "price": f"{9.0 + bore:.2f}", **ends} for bore in BORES],
        "fittings": [
            *(
                {"item": f"elbow-{angle:g}-{bore:g}", "type": "elbow", "angle": angle, "diameter": bore,
                 "price": 3.0 * bore, **ends}
                for bore, angle in product(BORES, (45.0, 90.0))
            ),
            *(
                {"item": f"taper-{small:g}-{large:g}", "type": "taper", "diameter": small,
                 "downstream_diameter": large, "price": 2.0 * large, **ends}
                for small, large in product(BORES, BORES)
                if small < large
            ),
            *(
                {"item": f"wye-{main:g}-{side:g}-{angle:g}", "type": "wye", "diameter": main,
                 "branch_diameter": side, "angle": angle, "price": 5.0 * main, **ends, "turnable": False}
                for main, side, angle in product(BORES, BORES, WYES)
                if side <= main
            ),
        ],
        "supplies": [*SLEEVES, *SUPPLIES] if pieces else [],
    }  # fmt: skip
