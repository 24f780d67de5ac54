"""What a seller has, with prices: one list for every question that chooses, counts or prices pieces."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Final, Literal, TypeAlias

from msgspec import Meta

from airbough.wire.base import Asked, Id, Name, Ratio, Word
from airbough.wire.quantity import Angle, Diameter, FittingLength, Length, QuantityText

_MONEY: Final = r"^[0-9]{1,9}(\.[0-9]{1,6})?(?!\n)$"

MoneyText: TypeAlias = Annotated[str, Meta(pattern=_MONEY)]
Money: TypeAlias = Annotated[
    Annotated[float, Meta(ge=0.0, le=1.0e9)] | MoneyText,
    Meta(
        description='In the caller\'s currency: a number, or text with a decimal point ("12.50").',
        extra={"pattern_means": "an amount of money in text has a decimal point and no more than six decimals"},
    ),
]
MoneyResult: TypeAlias = Annotated[
    Decimal, Meta(description="Decimal text in the caller's currency, rounded to its smallest coin.")
]
MoneyEach: TypeAlias = Annotated[Decimal, Meta(description="Decimal text, as the stock has it.")]
Day: TypeAlias = Annotated[
    str,
    Meta(
        pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}(?!\n)$",
        description="Day of the calendar (ISO 8601), by universal time.",
        extra={"pattern_means": "a day is written as 2027-03-31"},
    ),
]
End: TypeAlias = Annotated[
    Literal["enters", "receives", "flange", "cuff"],
    Meta(description="How an end joins: enters (male, crimped) or receives (female), with the air; a flange; a cuff."),
]
PieceLength: TypeAlias = Annotated[
    float | QuantityText,
    Meta(
        extra={"kind": "length", "range": (0.05, 100.0)},
        extra_json_schema={"x-kind": "length", "x-range-si": [0.05, 100.0]},
    ),
]
Pack: TypeAlias = Annotated[
    int, Meta(ge=1, le=1000000, description="Pieces in one package; `price` and `quantity` are of packages.")
]
FittingType: TypeAlias = Literal[
    "elbow", "taper", "abrupt-change", "port-adapter", "wye", "tee", "symmetrical-wye", "double-wye", "manifold",
    "cap", "stack-head", "weather-cap", "other",
]  # fmt: skip
AdapterUse: TypeAlias = Literal["inner-sleeve", "outer-sleeve", "flange-adapter", "hose-connector"]
SupplyUse: TypeAlias = Literal[
    "screw", "bolt", "gasket", "clamp", "sealant", "tape", "hanger", "bonding-wire", "bonding-jumper",
    "inner-sleeve", "outer-sleeve", "flange-adapter", "hose-connector",
]  # fmt: skip


class StockEntry(Asked, kw_only=True):
    """What every entry of a stock has.

    What is left out is not needed by the question, or told as not priced or not judged.
    """

    item: Annotated[Id | None, Meta(description="The seller's number, answered back; unlike in every entry.")] = None
    price: Money | None = None
    pack: Pack | None = None
    quantity: Annotated[
        Annotated[int, Meta(ge=0, le=1000000000)] | None,
        Meta(description="How many are there; of what is sold by length, in feet (us) or metres. Left out: enough."),
    ] = None
    substitutes: Annotated[
        tuple[Id, ...], Meta(max_length=20, description="Items that serve instead where these run out, best first.")
    ] = ()


class StockDuct(StockEntry, kw_only=True):
    """Duct or hose in one diameter, sold by length (`price_per_length`) or in pieces (`piece_length` and `price`).

    A hose's lengths are at full stretch.
    """

    diameter: Diameter
    duct: Annotated[Word | None, Meta(description="The construction. Left out: serves any.")] = None
    price_per_length: Annotated[Money | None, Meta(description="For one foot (us) or one metre (metric).")] = None
    piece_length: Annotated[
        PieceLength | None, Meta(description="End to end, laps included. Left out: cut to length by the seller.")
    ] = None
    upstream_end: Annotated[End | None, Meta(description="Left out: a hose's is a cuff, else not known.")] = None
    downstream_end: Annotated[End | None, Meta(description="Left out: as `upstream_end`.")] = None
    cut_end: Annotated[
        End | None, Meta(description="What a cut end is. Left out: plain, so it enters; of a hose a cuff.")
    ] = None
    turnable: Annotated[
        bool | None, Meta(description="May be laid the other way round. Left out: only a hose may.")
    ] = None
    wall: Annotated[FittingLength | None, Meta(description="Serves only runs of this `wall_thickness`.")] = None


class StockFitting(StockEntry, kw_only=True):
    """A fitting: `diameter` is at its upstream end; of a wye or tee, at the straight inlet. What is left out fits any.

    Of a symmetrical wye `diameter` is that of an inlet. Sizing lays tapers either way round.
    """

    type: FittingType
    diameter: Diameter
    downstream_diameter: Annotated[Diameter | None, Meta(description="Left out: `diameter`.")] = None
    branch_diameter: Annotated[Diameter | None, Meta(description="Left out: `diameter`.")] = None
    second_branch_diameter: Annotated[Diameter | None, Meta(description="Left out: `branch_diameter`.")] = None
    angle: Annotated[Angle | None, Meta(description="Of the turn, or of the branch.")] = None
    radius_ratio: Ratio | None = None
    construction: Word | None = None
    duct: Word | None = None
    length: Annotated[
        FittingLength | None,
        Meta(
            description="What it takes of the run's centreline. Left out: of a taper five times the difference of "
            "diameters, at least 50 mm."
        ),
    ] = None
    upstream_end: Annotated[End | None, Meta(description="Left out: joints with it are not judged.")] = None
    downstream_end: End | None = None
    branch_end: Annotated[End | None, Meta(description="Left out: `upstream_end`.")] = None
    turnable: bool = False


class StockGate(StockEntry, kw_only=True):
    """A slide gate."""

    diameter: Diameter
    length: FittingLength | None = None
    upstream_end: Annotated[End | None, Meta(description="Left out: joints with it are not judged.")] = None
    downstream_end: End | None = None
    turnable: bool = False


class StockSupply(StockEntry, kw_only=True):
    """Screws and the like in packages; wire, tape, gasket and sealant that reach for `length`; sleeves and adapters."""

    use: SupplyUse
    length: Annotated[Length | None, Meta(description="How far a package reaches; of a sleeve its own length.")] = None
    diameter: Annotated[Diameter | None, Meta(description="For one diameter only; left out: any.")] = None


class Stock(Asked, kw_only=True, dict=True, gc=True):
    """What can be bought. `ducts` alone are enough; no list is ours.

    A list left out, or empty, is not told: its pieces are to be had in all diameters and have no price. Else a piece
    that is not on its list is not to be had.
    """

    ducts: Annotated[tuple[StockDuct, ...], Meta(max_length=2000)] = ()
    fittings: Annotated[tuple[StockFitting, ...], Meta(max_length=20000)] = ()
    gates: Annotated[tuple[StockGate, ...], Meta(max_length=2000)] = ()
    supplies: Annotated[tuple[StockSupply, ...], Meta(max_length=2000)] = ()
    currency: Annotated[
        Name | None,
        Meta(description="Answered back. By its code of ISO 4217 money is rounded to its coin; else to hundredths."),
    ] = None
    expires: Annotated[Day | None, Meta(description="The last day on which the prices hold.")] = None
