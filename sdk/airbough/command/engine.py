"""Where answers come from: the service at an address, or the engine in this machine's own processes."""

from __future__ import annotations

import gc
import multiprocessing
import os
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from functools import partial
from itertools import islice
from typing import Final

from airbough import Client, Local, local
from airbough.command.checked import Checked, Wanted, checked
from airbough.command.designs import Found

AT_ONCE: Final = 40  # designs handed to a process together
FEW: Final = 80  # designs that are not worth starting further processes for
DASK: Final = "dask://"
_CIRCLES_AFTER: Final = 100_000  # things made and not yet let go
RETRIES: Final = 2  # of a chunk whose worker failed of itself


def client(service: str | None) -> Client | Local:
    """Return the client meant: of the service at an address, named here or in AIRBOUGH_BASE_URL, else of this process.

    Raises:
        ImportError: without an address where the service's distribution is not installed.
        ValueError: where the address is none.
    """
    address = service or os.environ.get("AIRBOUGH_BASE_URL")
    return Client(address) if address else local()


def answered(
    found: Iterable[Found], wanted: Wanted, service: str | None, processes: int, cluster: str | None = None
) -> Iterator[Checked]:
    """Yield what each design comes to, in their order; each is asked once, and judged where it is answered.

    Args:
        found: what is asked.
        wanted: what is kept of what comes back.
        service: address of the service; None: that of the environment, else the engine here.
        processes: of the engine here.
        cluster: `dask://host:port` of a scheduler, whose workers have the engine; it goes before the others.

    Raises:
        AirboughError: where the service is not reached or a batch breaks off.
        ImportError: for a cluster without the extra `dask`.
        OSError: where the scheduler is not reached.
        ValueError: for an address of a cluster that is none, or one without workers.
    """
    chunks = _chunks(found)
    if cluster is not None:
        with _workers(cluster) as (pool, threads):
            yield from _together(chunks, wanted, pool, 3 * threads)
        return
    first = next(chunks, [])
    if service or os.environ.get("AIRBOUGH_BASE_URL") or processes < 2:
        with client(service) as asked:
            for chunk in _before(first, chunks):
                yield from checked(chunk, wanted, asked)
        return
    second = next(chunks, [])
    if len(first) + len(second) <= FEW and len(second) < AT_ONCE:
        with local() as asked:
            for chunk in (first, second):
                yield from checked(chunk, wanted, asked)
        return
    with ProcessPoolExecutor(processes, multiprocessing.get_context("spawn"), _ready) as pool:
        yield from _together(_before(first, _before(second, chunks)), wanted, pool, 2 * processes + 1)


def _together(chunks: Iterable[list[Found]], wanted: Wanted, pool: Executor, ahead: int) -> Iterator[Checked]:
    """Answer chunks in several processes; only so many are read ahead."""
    waiting: deque[Future[list[Checked]]] = deque()
    work = partial(_work, wanted=wanted)
    try:
        for chunk in chunks:
            waiting.append(pool.submit(work, chunk))
            if len(waiting) >= ahead:
                yield from waiting.popleft().result()
        while waiting:
            yield from waiting.popleft().result()
    finally:
        for future in waiting:
            future.cancel()


@contextmanager
def _workers(cluster: str) -> Iterator[tuple[Executor, int]]:
    """Yield what hands work to a scheduler's workers, and how many there are; a lost worker's work goes to another."""
    if not cluster.startswith(DASK):
        raise ValueError(f"{cluster}: a cluster is named {DASK}host:port")
    try:
        from distributed import Client as Scheduler
    except ImportError:
        raise ImportError("a cluster needs the extra: pip install 'airbough[dask]'") from None
    with Scheduler("tcp://" + cluster.removeprefix(DASK), timeout=10) as scheduler:  # type: ignore[no-untyped-call]
        threads = sum(scheduler.nthreads().values())
        if not threads:
            raise ValueError(f"{cluster}: the scheduler has no workers yet")
        yield scheduler.get_executor(pure=False, retries=RETRIES), threads


_engine: list[Local] = []  # of this process, made when first asked


def _ready() -> None:
    """Load the engine in a process that only answers: what is loaded stays, and circles are looked for seldom."""
    _engine.append(local())
    gc.freeze()
    gc.set_threshold(_CIRCLES_AFTER)


def _work(chunk: list[Found], wanted: Wanted) -> list[Checked]:
    if not _engine:
        _engine.append(local())
    return list(checked(chunk, wanted, _engine[0]))


def _chunks(found: Iterable[Found]) -> Iterator[list[Found]]:
    source = iter(found)
    return iter(lambda: list(islice(source, AT_ONCE)), [])


def _before(first: list[Found], rest: Iterable[list[Found]]) -> Iterator[list[Found]]:
    if first:
        yield first
    yield from rest
