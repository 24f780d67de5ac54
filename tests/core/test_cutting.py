"""Packing of cuts, against an exhaustive search over every way to share them out (written here, no source)."""

import math
import random
import time

import pytest

from airbough_service.core.choosing.cutting import (
    Stock,
    TooLongError,
    fits,
    pack,
    split,
)


def partitions(items):
    """Give every way to part a list into groups."""
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for groups in partitions(rest):
        yield [[first], *groups]
        for number, group in enumerate(groups):
            yield [*groups[:number], [first, *group], *groups[number + 1 :]]


def needed(cuts, kerf):
    """Return the length that cuts and the saw between them take; written apart from the code under test."""
    return math.fsum(cuts) + (len(cuts) - 1) * kerf


def cheapest(cuts, stocks, kerf):
    """Return the least cost of any packing."""
    best = math.inf
    for groups in partitions(list(cuts)):
        cost = 0.0
        for group in groups:
            able = [stock.cost for stock in stocks if needed(group, kerf) <= stock.length + 1e-9]
            cost += min(able, default=math.inf)
        best = min(best, cost)
    return best


def check(cuts, stocks, kerf, packing):
    """Every cut once, none longer than its stock piece, the cost as told."""
    assert sorted(cut for bar in packing.bars for cut in bar.cuts) == list(range(len(cuts)))
    for bar in packing.bars:
        assert needed([cuts[cut] for cut in bar.cuts], kerf) <= stocks[bar.stock].length + 1e-8
    assert packing.cost == pytest.approx(sum(stocks[bar.stock].cost for bar in packing.bars))
    assert packing.bound <= packing.cost + 1e-9


@pytest.mark.parametrize("seed", range(150))
def test_one_stock_length_is_packed_into_the_fewest_pieces(seed):
    draw = random.Random(seed)
    length, kerf = draw.choice([1.0, 1.5, 3.0]), draw.choice([0.0, 0.002, 0.01, 0.1])
    cuts = [round(draw.uniform(0.05, 1.0) * length, 3) for _ in range(draw.randint(1, 7))]
    stocks = [Stock(length, length)]
    packing = pack(cuts, stocks, kerf)
    check(cuts, stocks, kerf, packing)
    assert packing.exact
    assert packing.cost == pytest.approx(cheapest(cuts, stocks, kerf))


@pytest.mark.parametrize("seed", range(150))
def test_several_stock_lengths_are_packed_at_the_least_cost(seed):
    draw = random.Random(1000 + seed)
    kerf = draw.choice([0.0, 0.003, 0.05])
    by_length = draw.random() < 0.5
    stocks = [Stock(length, length if by_length else round(draw.uniform(1.0, 9.0), 2)) for length in (1.0, 1.5, 3.0)]
    cuts = [round(draw.uniform(0.05, 2.9), 2) for _ in range(draw.randint(1, 6))]
    packing = pack(cuts, stocks, kerf)
    check(cuts, stocks, kerf, packing)
    assert packing.exact
    assert packing.cost == pytest.approx(cheapest(cuts, stocks, kerf))


def test_a_case_in_which_longest_first_into_the_fullest_is_beaten():
    # Two pieces of 10 hold 5 + 3 + 2 and 4 + 4 + 2; longest first fills 5 + 4, then 4 + 3 + 2, then 2.
    cuts = [5.0, 4.0, 4.0, 3.0, 2.0, 2.0]
    greedy = pack(cuts, [Stock(10.0, 10.0)], 0.0, nodes=0)
    assert len(greedy.bars) == 3
    packing = pack(cuts, [Stock(10.0, 10.0)], 0.0)
    assert packing.exact
    assert len(packing.bars) == 2


def test_the_gap_is_told_where_the_search_is_cut_short():
    packing = pack([5.0, 4.0, 4.0, 3.0, 2.0, 2.0], [Stock(10.0, 10.0)], 0.0, nodes=2)
    assert not packing.exact
    assert (packing.cost, packing.bound) == (30.0, 20.0)


def test_kerf_parts_what_would_fit_without_it():
    stocks = [Stock(1.0, 1.0)]
    assert len(pack([0.5, 0.5], stocks, 0.0).bars) == 1
    assert len(pack([0.5, 0.5], stocks, 0.002).bars) == 2
    assert fits([0.5, 0.499], 1.0, 0.001)
    assert not fits([0.5, 0.4995], 1.0, 0.001)


def test_a_cut_longer_than_any_stock_is_an_error():
    with pytest.raises(TooLongError):
        pack([1.2], [Stock(1.0, 1.0)], 0.0)


def test_no_cuts_need_no_stock():
    assert pack([], [Stock(1.0, 1.0)], 0.003).bars == ()


def test_many_cuts_are_answered_soon_and_never_below_the_bound():
    draw = random.Random(5)
    cuts = [draw.uniform(0.1, 2.9) for _ in range(1500)]
    stocks = [Stock(3.0, 3.0)]
    began = time.thread_time()  # however long it waits for a processor
    packing = pack(cuts, stocks, 0.003)
    assert time.thread_time() - began < 5.0
    check(cuts, stocks, 0.003, packing)
    assert packing.cost <= 1.05 * packing.bound


@pytest.mark.parametrize("seed", range(200))
def test_split_covers_the_length_in_the_fewest_pieces(seed):
    draw = random.Random(seed)
    full = draw.uniform(0.8, 3.0)
    cut = full - draw.choice([0.0, 0.03])
    least = draw.choice([0.0, 0.1])
    length = draw.uniform(0.01, 12.0)
    whole, rest = split(length, full, cut, least)
    assert whole * full + math.fsum(rest) == pytest.approx(length, rel=1e-12)
    assert all(0.0 < piece <= cut + 1e-9 for piece in rest)
    fewest = math.ceil(length / full - 1e-9)
    assert whole + len(rest) <= fewest + 1
    if cut == full:
        assert whole + len(rest) == fewest
    if length > full + least:
        assert all(piece >= least - 1e-9 for piece in rest) or 2 * least > full


def test_split_of_whole_pieces_cuts_nothing():
    assert split(6.0, 1.5, 1.5, 0.1) == (4, ())
    assert split(0.3 * 3, 0.3, 0.3, 0.1) == (3, ())


def test_a_sliver_borrows_from_a_full_piece():
    whole, rest = split(3.02, 1.5, 1.5, 0.1)
    assert whole == 1
    assert rest == pytest.approx((1.42, 0.1))


@pytest.mark.parametrize("seed", range(40))
def test_full_pieces_and_one_remainder_need_no_more_stock_than_any_other_split_of_two_pieces(seed):
    """The split's claim: among splits with the fewest joints none lets the packing buy less (tried on a grid)."""
    draw = random.Random(seed)
    full = 10
    lengths = [draw.randint(11, 19) for _ in range(3)]
    ours = sum(split(length, full, full, 0.0)[0] for length in lengths)
    rests = [piece for length in lengths for piece in split(length, full, full, 0.0)[1]]
    ours += len(pack(rests, [Stock(full, 1.0)], 0.0).bars)
    best = min(
        len(pack([a, lengths[0] - a, b, lengths[1] - b, c, lengths[2] - c], [Stock(full, 1.0)], 0.0).bars)
        for a in range(lengths[0] - full, full + 1, 2)
        for b in range(lengths[1] - full, full + 1, 3)
        for c in range(lengths[2] - full, full + 1, 3)
    )
    assert ours <= best
