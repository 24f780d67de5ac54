"""What labels close of the gap that weights leave, against all labels there are."""

import math

import msgspec
import numpy as np
import pytest

import layout_shops
from airbough.wire.layout import LayoutRequest
from airbough_service.combined.layout import closing, narrowing, weighing
from airbough_service.combined.layout.asked import asked
from airbough_service.combined.layout.climbing import Climbed
from airbough_service.combined.layout.places import places
from airbough_service.combined.layout.pressing import pressing
from airbough_service.combined.layout.pricing import priced
from airbough_service.combined.layout.search import Search
from airbough_service.terms.units import to_si


def searching(seed, top):
    """A search of four machines at random whose fan is weak, the program's losses, and where it starts."""
    shop = layout_shops.random_shop(seed, 4, stock=layout_shops.stock((100, 112, 118, 125, 132, 140)), allowance=0.0)
    for one in shop["machines"]:
        one["flow"] = 1000
    shop["collector"] = shop["collector"] | layout_shops.fan(top)
    request = to_si(msgspec.convert(shop, LayoutRequest))
    ready, where = asked(request), places(request)
    work = priced(ready, where)
    search = Search(ready, where, work)
    return search, narrowing.narrowed(search), pressing(ready, where, work)


@pytest.mark.parametrize(("seed", "share"), [(10, 1.0), (13, 1.0), (0, 0.3), (1, 3.0)])
def test_labels_raise_the_bound_no_higher_than_the_cheapest_that_has_the_pressure(seed, share):
    """Weights too low, about right and too high; the cheapest by labels of everything, without weights or a limit.

    A tree that is found beyond what was looked up to proves nothing of dearer ones: those may have been left out.
    """
    search, narrow, press = searching(seed, 1700.0)
    none = np.zeros(press.opened.shape)
    everything = closing.Left(
        search.priced, press, closing.still_of(search.where, narrow.at.solved, search.priced.prices)
    )
    cheapest, whole = closing.cheapest(search, everything, none, math.inf)
    assert whole
    if not cheapest:
        return
    least = cheapest[0].price + search.priced.hoses
    weight = share * 0.05 * np.where(press.opened, 1.0, 0.0)
    bound = min(narrow.at.bound, least)
    raised = weighing._closed(search, Climbed(bound, weight, narrow, press), 1.2 * least)
    assert bound <= raised <= least * (1.0 + 1e-9)
