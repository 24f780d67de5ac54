"""What is remembered of paths between requests."""

import tracemalloc

from airbough_service.shop import paths


def corners(number, start):
    """Return a path of so many points, up and along by turns."""
    return tuple((start + (at + 1) // 2, 0.0, at // 2) for at in range(number))


def test_long_paths_of_callers_are_not_kept():
    """A process that kept a thousand paths of two hundred points, the most of a run, would hold 80 MB for nobody."""
    tracemalloc.start()
    try:
        for number in range(300):
            paths.centreline(corners(200, float(number)))
        kept, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert kept < 2_000_000
    assert paths.centreline(corners(4, 0.5)) is paths.centreline(corners(4, 0.5))
    assert paths.centreline(corners(200, 0.5)) == paths.centreline(corners(200, 0.5))
