"""The solver on random trees: every one settles, and residuals summed again independently are below 1e-9."""

import random_trees as trees


def test_twenty_thousand_random_trees() -> None:
    """Flow-ratio, square-tee and entry-angle junctions, fan tables, shut and leaking gates, 1 to 1,000 hoods."""
    counts, worst, longest, failed = trees.trials(0, 20_000, 1000, trees.LAWS)
    assert counts[trees.NOT_CONVERGED] == 0
    assert list(failed[failed >= 0]) == []
    assert worst.max() < 1.0e-9
    assert counts[trees.OK] > 15_000
    assert counts[trees.NO_FLOW] > 100
    assert longest < 60
