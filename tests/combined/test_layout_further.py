"""What is looked at beside the program's cheapest trees: pressure that nobody limits, runs that cross, and what is
proven where none holds."""

import itertools

import msgspec
import numpy as np
import pytest

import layout_shops
from airbough.wire.layout import LayoutRequest
from airbough_service.combined.layout.asked import asked
from airbough_service.combined.layout.places import places
from airbough_service.combined.layout.pricing import priced
from airbough_service.combined.layout.trying import tried
from airbough_service.core.choosing.placing import program
from airbough_service.core.choosing.placing.trace import trace
from airbough_service.terms.units import to_si
from asking import ask
from combined.test_layout import topologies


def sized(shop, draws):
    """Every way to join the machines two by two, at the prices and at random ones, each sized and solved."""
    request = to_si(msgspec.convert(shop, LayoutRequest))
    ready, where = asked(request), places(request)
    work, seen = priced(ready, where), set()
    count = len(where.machines)
    alone = [1 << machine for machine in range(count)]
    for number, joined in itertools.product(range(draws), topologies(count)):
        mine = work.kept(np.isin(work.rows.group, [*joined, *alone]))
        dearer = np.random.default_rng(number).uniform(0.5, 2.0, mine.prices.length.size) if number else 1.0
        prices = mine.prices._replace(length=mine.prices.length * dearer)
        solved = program.solve(where.lattice, where.machines, mine.rows, prices)
        _, row, heading = program.best(solved, prices, where.inlet)
        if row < 0:
            continue
        found = trace(where.lattice, list(where.machines), solved, prices, where.inlet, row, heading)
        key = tuple(sorted((run.machines, *run.points) for run in found.root.runs()))
        if key not in seen:
            seen.add(key)
            yield tried(ready, where, found)


def narrow(seed, sizes, flow):
    """Three machines at random without a fan, whose cheapest ducts draw more suction than one density answers."""
    shop = layout_shops.random_shop(seed, 3, stock=layout_shops.stock(sizes), rules={"upper_velocity": "off"})
    for machine in shop["machines"]:
        machine |= {"port": 80, "flow": flow}
    return shop


@pytest.mark.parametrize(("seed", "flow"), [(1, 1200), (2, 1200), (7, 1200), (9, 1100)])
def test_no_topology_is_cheaper_where_suction_is_too_deep_for_the_cheapest(seed, flow):
    shop = narrow(seed, (80, 100, 112, 160), flow)
    answer = ask("layout", shop)
    found = [one for one in sized(shop, 3) if one is not None and one.holds]
    assert found
    assert answer.layouts[0].holds
    assert answer.layouts[0].price <= min(one.price for one in found)
    assert answer.bound <= min(one.price for one in found)


def pairs(seed, top, machines=4):
    """Each machine at random runs with the next."""
    shop = layout_shops.random_shop(seed, machines, stock=layout_shops.stock((100, 125, 140, 160, 180)))
    ids = [one["id"] for one in shop["machines"]] * 2
    shop["states"] = [{"name": ids[at], "open": ids[at : at + 2]} for at in range(machines)]
    shop["collector"] = shop["collector"] | layout_shops.fan(top)
    return shop


@pytest.mark.parametrize(("seed", "top", "machines"), [(8, 4500.0, 4), (13, 3200.0, 3), (39, 3200.0, 3)])
def test_a_layout_that_holds_is_found_where_the_cheapest_cross_or_starve(seed, top, machines):
    """Runs that cross in the cheapest tree are kept apart; machines whose pair starves join otherwise."""
    answer = ask("layout", pairs(seed, top, machines))
    first = answer.layouts[0]
    assert first.holds
    assert not first.overlaps
    assert first.price >= answer.bound
    assert not answer.none_holds


@pytest.mark.parametrize("seed", [7, 9])
def test_that_none_holds_is_proven_where_no_state_alone_lacks_pressure(seed):
    """Every way to join three machines, at several prices: none of what sizing makes of them holds."""
    shop = pairs(seed, 2400.0, 3)
    answer = ask("layout", shop)
    assert answer.none_holds
    assert answer.bound is None
    assert not answer.lacking
    assert "for all states at once" in answer.statement
    found = [one for one in sized(shop, 3) if one is not None]
    assert found
    assert not any(one.holds for one in found)


def test_that_none_holds_is_said_where_a_state_lacks_pressure():
    shop = layout_shops.shop(collector=layout_shops.shop()["collector"] | layout_shops.fan(700.0))
    answer = ask("layout", shop)
    assert answer.lacking
    assert answer.none_holds
    assert not ask("layout", layout_shops.shop()).none_holds


def test_suction_too_deep_in_every_arrangement_is_told():
    shop = narrow(1, (80,), 1750)
    answer = ask("layout", shop)
    assert answer.none_holds
    assert not answer.layouts
    assert "suction is deeper than can be answered" in answer.statement


@pytest.mark.parametrize(
    ("seed", "sizes", "together", "weaker", "stronger"),
    [(512, (100, 112, 125, 140), 0, 1500.0, 1900.0), (505, (100, 112, 125, 140, 160, 180), 1, 700.0, 1300.0)],
)
def test_what_is_needed_does_not_hang_on_the_fan_asked_with(seed, sizes, together, weaker, stronger):
    """Two fans too weak for the same shop: a state that both lack needs as much with either."""
    shop = layout_shops.random_shop(seed, 4, stock=layout_shops.stock(sizes))
    for machine in shop["machines"]:
        machine["flow"] = 1000
    ids = [one["id"] for one in shop["machines"]] * 2
    shop["states"] = [{"name": ids[at], "open": ids[at : at + 1 + together]} for at in range(4)]
    needed = []
    for top in (weaker, stronger):
        answer = ask("layout", shop | {"collector": shop["collector"] | layout_shops.fan(top)})
        needed.append({one.state: one.needed for one in answer.lacking})
    both = needed[0].keys() & needed[1].keys()
    assert both
    for state in both:
        assert needed[0][state] == pytest.approx(needed[1][state], rel=1e-9)
