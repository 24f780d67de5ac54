"""Which states leave machines without any diameter in which they could share a duct."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from airbough.wire.layout import LayoutClash
from airbough_service.combined.layout.asked import Asked
from airbough_service.combined.layout.pricing import Priced
from airbough_service.core.choosing.placing import sets

MOST = 20


def clashes(asked: Asked, priced: Priced) -> tuple[LayoutClash, ...]:
    """Return the smallest sets of machines without a diameter, those that hold a smaller one left out.

    Where each set has one by itself, those for which it is wider than what all flow into at last.
    """
    area = np.pi * np.array(asked.shopping.sizes) ** 2 / 4.0
    too_fast = asked.request.rules.upper_velocity is None
    own: NDArray[np.bool_] = np.logical_not(sets.allowed(priced.flows, area, too_fast=too_fast).any(axis=1))
    in_all: NDArray[np.bool_] = np.asarray((priced.rows.number < 0).all(axis=1))
    return _named(asked, priced, own, None) or _named(asked, priced, in_all, in_all.size - 1)


def _named(asked: Asked, priced: Priced, without: NDArray[np.bool_], into: int | None) -> tuple[LayoutClash, ...]:
    empty = np.flatnonzero(without)[1:] if without[0] else np.flatnonzero(without)
    names, too_fast = [machine.id for machine in asked.request.machines], asked.request.rules.upper_velocity is None
    least: list[int] = []
    for group in sorted(map(int, empty), key=lambda one: (one.bit_count(), one)):
        if not any(group & one == one for one in least):
            least.append(group)
    out = []
    for group in least[:MOST]:
        narrow, wide = sets.between(priced.flows, group, into)
        at_least = 2.0 * math.sqrt(narrow / math.pi) if narrow > 0.0 and not too_fast else None
        at_most = 2.0 * math.sqrt(wide / math.pi) if math.isfinite(wide) else None
        clash = zip(sets.clash(priced.flows, group, into), (at_most, at_least), strict=True)
        states = dict.fromkeys(asked.opened[state][0] for state, size in clash if size is not None)
        machines = tuple(name for number, name in enumerate(names) if group >> number & 1)
        out.append(
            LayoutClash(
                machines=machines,
                states=tuple(states),
                alone=len(machines) == 1 and into is None,
                at_least=at_least,
                at_most=at_most,
            )
        )
    return tuple(out)
