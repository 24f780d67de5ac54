"""What a process remembers of questions is bounded, whatever is asked: entries, and bytes all together."""

import collections
import functools
import gc
import json
import math
import sys
import tracemalloc

import hostile
from airbough.calls import CALLS
from airbough_service.api.settings import Settings
from unlike import Unlike

MOST = 100.0
"""MiB that all that is remembered may come to in one process; DEVELOPERS.md tells it."""

UNSEEN = 1024.0
"""Bytes that an entry is taken to have where none is seen here."""

HEAVIER = {
    "airbough_service.api.http.respond._told": 3_072.0,  # the catalogue in every format is 1.9 MiB: 240 answers
    "airbough_service.combined.trimming.parts": 20_480.0,  # a hundred names of parts
    "airbough_service.core.choosing.placing.program.subsets": 4.5 * 2**20,  # of twelve machines, more there are not
    "airbough_service.judging.shape.easing": 3_072.0,  # two ways told in words
}
"""Bytes of the heaviest entry where the trees here have none."""

BY_NAME = {call.name: call for call in CALLS}


def caches():
    """Return every cache of functions of the packages, but for those that live as long as one question.

    Of modules and their classes, and wherever else the collector sees one; it sees none once a server has frozen it.
    """
    modules = [module for name, module in list(sys.modules.items()) if name.split(".")[0].startswith("airbough")]
    holders = [*modules, *(value for module in modules for value in vars(module).values() if isinstance(value, type))]
    found = [getattr(value, "__func__", value) for holder in holders for value in vars(holder).values()]
    found = [item for item in (*found, *gc.get_objects()) if type(item) is functools._lru_cache_wrapper]  # no proxy
    named = {item: f"{getattr(item, '__module__', '')}.{getattr(item, '__qualname__', '')}" for item in found}
    return {item: name for item, name in named.items() if name.startswith("airbough") and "<locals>" not in name}


def ask(name, document):
    return hostile.ask(BY_NAME[name], json.dumps(document).encode(), Settings())


def ask_everything(unlike):
    """Ask every question, and about trees right and wrong; none has a number or a word of another."""
    for call in hostile.POSTS:
        assert ask(call.name, unlike.example(call.name))[0] == 200, call.name
    ask_trees(unlike, wrong=False)
    ask_trees(unlike, wrong=True)


def ask_trees(unlike, *, wrong):
    for fittings in (12, 0):
        tree = unlike.tree(20, fittings, wrong=wrong) | {"collector": unlike.collector()}
        status, told = ask("operating-point", tree)
        assert status == (422 if wrong else 200), told


def test_caches_without_a_bound_hold_nothing_of_the_callers():
    for seed in range(2):
        ask_everything(Unlike(seed))
    before = {cache: cache.cache_info().currsize for cache in caches() if cache.cache_info().maxsize is None}
    ask_everything(Unlike(2))
    more = [name for cache, name in caches().items() if cache.cache_info().currsize > before.get(cache, math.inf)]
    assert before
    assert not more


def forget(cache):
    """Empty a cache and return how many bytes that frees."""
    before = tracemalloc.get_traced_memory()[0]
    cache.cache_clear()
    return before - tracemalloc.get_traced_memory()[0]


def test_all_that_is_kept_is_bounded_in_bytes():
    """Each cache is taken to be full of the heaviest entries seen: of runs with twelve unlike fittings, or faults."""
    bounded = {cache: name for cache, name in caches().items() if cache.cache_info().maxsize is not None}
    seen = {}
    for wrong in (False, True):
        for cache in bounded:
            cache.cache_clear()
        tracemalloc.start()
        try:
            ask_trees(Unlike(3), wrong=wrong)
            for cache in bounded:
                if entries := cache.cache_info().currsize:
                    seen[cache] = max(seen.get(cache, 0.0), forget(cache) / entries)
        finally:
            tracemalloc.stop()
    full = collections.Counter()
    for cache, name in bounded.items():
        entry = max(HEAVIER.get(name, 0.0), seen.get(cache, UNSEEN))
        full[name] += entry * cache.cache_info().maxsize / 2**20
    told = "\n".join(f"{mebibytes:6.1f} MiB {name}" for name, mebibytes in full.most_common())
    assert set(HEAVIER) <= set(full)
    assert len(seen) > 10
    assert full.total() <= MOST, told
