"""Where answers come from: the service at an address, or the engine in this machine's own processes."""

from __future__ import annotations

import multiprocessing
import os
from collections import deque
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final

import msgspec

from airbough import Client, Local, local
from airbough.calls import CALLS
from airbough.command.designs import Design
from airbough.errors import Refused, ServerFailed
from airbough.travel.batch import Result
from airbough.wire.tree import Tree

AT_ONCE: Final = 40  # designs handed to a process together
ABOUT_TREES: Final = frozenset(call.name for call in CALLS if issubclass(call.request, Tree))
FEW: Final = 80  # designs that are not worth starting further processes for
DASK: Final = "dask://"
RETRIES: Final = 2  # of a chunk whose worker failed of itself


@dataclass(frozen=True, slots=True)
class Answered:
    """What came back for a design.

    Attributes:
        design: the one asked about.
        status: as the service alone would give it.
        body: the answer, or the problem, as JSON.
    """

    design: Design
    status: int
    body: bytes

    @property
    def refused(self) -> bool:
        """Whether there is no answer."""
        return self.status != 200


def client(service: str | None) -> Client | Local:
    """Return the client meant: of the service at an address, named here or in AIRBOUGH_BASE_URL, else of this process.

    Raises:
        ImportError: without an address where the service's distribution is not installed.
        ValueError: where the address is none.
    """
    address = service or os.environ.get("AIRBOUGH_BASE_URL")
    return Client(address) if address else local()


def answered(
    designs: Iterable[Design], service: str | None, processes: int, cluster: str | None = None
) -> Iterator[Answered]:
    """Yield what comes back for each design, in their order; each is asked once.

    Args:
        designs: what is asked.
        service: address of the service; None: that of the environment, else the engine here.
        processes: of the engine here.
        cluster: `dask://host:port` of a scheduler, whose workers have the engine; it goes before the others.

    Raises:
        AirboughError: where the service is not reached or a batch breaks off.
        ImportError: for a cluster without the extra `dask`.
        OSError: where the scheduler is not reached.
        ValueError: for an address of a cluster that is none, or one without workers.
    """
    chunks = _chunks(designs)
    if cluster is not None:
        with _workers(cluster) as (pool, threads):
            yield from _together(chunks, pool, 3 * threads)
        return
    first = next(chunks, [])
    if service or os.environ.get("AIRBOUGH_BASE_URL") or processes < 2:
        with client(service) as asked:
            for chunk in _before(first, chunks):
                yield from _asked(chunk, asked)
        return
    second = next(chunks, [])
    if len(first) + len(second) <= FEW and len(second) < AT_ONCE:
        with local() as asked:
            for chunk in (first, second):
                yield from _asked(chunk, asked)
        return
    with ProcessPoolExecutor(processes, multiprocessing.get_context("spawn")) as pool:
        yield from _together(_before(first, _before(second, chunks)), pool, 2 * processes + 1)


def _together(chunks: Iterable[list[Design]], pool: Executor, ahead: int) -> Iterator[Answered]:
    """Answer chunks in several processes; only so many are read ahead."""
    waiting: deque[tuple[list[Design], Future[list[tuple[int, bytes]]]]] = deque()
    try:
        for chunk in chunks:
            waiting.append((chunk, pool.submit(_work, chunk)))
            if len(waiting) >= ahead:
                yield from _finished(*waiting.popleft())
        while waiting:
            yield from _finished(*waiting.popleft())
    finally:
        for _, future in waiting:
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


def _finished(chunk: list[Design], future: Future[list[tuple[int, bytes]]]) -> Iterator[Answered]:
    for design, (status, body) in zip(chunk, future.result(), strict=True):
        yield Answered(design, status, body)


_engine: list[Local] = []  # of this process, made when first asked


def _work(chunk: list[Design]) -> list[tuple[int, bytes]]:
    if not _engine:
        _engine.append(local())
    return [(one.status, one.body) for one in _asked(chunk, _engine[0])]


def _asked(chunk: list[Design], client: Client | Local) -> Iterator[Answered]:
    """Yield what comes back for a chunk; of an outline asked as a tree, its tree is asked about."""
    drawn = _trees(chunk, client)
    ready = [drawn.get(number, design) for number, design in enumerate(chunk)]
    for design, told in zip(chunk, _told(ready, client.batch(_lines(ready))), strict=True):
        yield Answered(design, told.status, told.body)


def _trees(chunk: list[Design], client: Client | Local) -> dict[int, Design]:
    """Return, by number, the designs whose document is an outline, with the tree of it or the fault of it instead."""
    outlines: list[tuple[str, str, Any]] = [
        (str(number), "outline", one.document)
        for number, one in enumerate(chunk)
        if one.fault is None and one.question in ABOUT_TREES and is_outline(one.document)
    ]
    found = {}
    for result in client.batch(outlines) if outlines else ():
        design = chunk[int(str(result.id))]
        tree = None if result.answer is None else msgspec.to_builtins(result.answer.tree)
        found[int(str(result.id))] = Design(design.place, design.question, tree, result.error)
    return found


def is_outline(document: object) -> bool:
    """Return whether a document is an outline: it has lines and machines, and no runs."""
    return isinstance(document, Mapping) and "lines" in document and "machines" in document and "runs" not in document


def _lines(chunk: list[Design]) -> Iterator[tuple[str, str, Any]]:
    """Give each readable design an id of its own: its number in the chunk."""
    return ((str(number), one.question, one.document) for number, one in enumerate(chunk) if one.fault is None)


def _told(chunk: list[Design], results: Iterator[Result]) -> Iterator[Answered]:
    for design in chunk:
        if design.fault is not None:
            yield Answered(design, design.fault.status, _problem(design.fault))
            continue
        result = next(results)
        body = _problem(result.error) if result.error is not None else msgspec.json.encode(result.answer)
        yield Answered(design, result.status, body)


def _problem(error: Refused | ServerFailed) -> bytes:
    return msgspec.json.encode(msgspec.structs.replace(error.problem, instance=None))  # an id of the moment


def _chunks(designs: Iterable[Design]) -> Iterator[list[Design]]:
    source = iter(designs)
    return iter(lambda: list(islice(source, AT_ONCE)), [])


def _before(first: list[Design], rest: Iterable[list[Design]]) -> Iterator[list[Design]]:
    if first:
        yield first
    yield from rest
