"""Whose work is next: callers take turns, a caller's batches and single questions take turns within them.

A caller of a single question who has nothing under way does not wait for the work of others: as many threads again as
compute ordinarily are kept for that. So neither heavy batches nor somebody's heavy questions keep out a light one.
"""

from __future__ import annotations

import itertools
from asyncio import Future
from collections import Counter, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Generic, TypeAlias, TypeVar

from airbough_service.api.problems import HttpRefusal
from airbough_service.core.deadline import Interest

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Turn:
    """On whose behalf work is done.

    Attributes:
        caller: the caller's name.
        batch: the batch that it is a piece of; None for a question of its own.
    """

    caller: str
    batch: object = None


@dataclass(slots=True, eq=False)
class Work(Generic[Result]):
    """One piece of work, waiting or begun.

    Attributes:
        turn: on whose behalf.
        task: what is to be done.
        begun: is done when it has been handed to a thread, or refused.
        outcome: what comes of it, once begun.
        interest: is lost when nobody waits for it any more.
    """

    turn: Turn
    task: Callable[[], Result]
    begun: Future[None]
    outcome: Future[Result] | None = None
    interest: Interest = field(default_factory=Interest)


AnyWork: TypeAlias = Work[Any]


class Turns:
    """The queue before the threads.

    Attributes:
        ordinary: how much may be computed at once; as much again for callers who have nothing under way.
        most_waiting: how many single questions may wait.
    """

    def __init__(self, ordinary: int, most_waiting: int, start: Callable[[AnyWork], Future[Any]]) -> None:
        self._start = start
        self.ordinary = ordinary
        self.most_waiting = most_waiting
        self._queues: dict[Turn, deque[AnyWork]] = {}
        self._busy = 0
        self._under_way: Counter[Turn] = Counter()
        self._of_caller: Counter[str] = Counter()
        self._last: dict[str, int] = {}
        self._number = itertools.count(1)

    @property
    def idle(self) -> bool:
        """Whether nothing is under way or waits."""
        return not self._busy and not self._queues

    def enter(self, work: AnyWork) -> None:
        """Queue up, or begin at once.

        Raises:
            HttpRefusal: `busy` where too many wait already, none of them with more waiting than this caller.
        """
        queue = self._queues.setdefault(work.turn, deque())
        queue.append(work)
        self._begin_what_may()
        if work.outcome is None and work.turn.batch is None and self._waiting() > self.most_waiting:
            longest = max((q for turn, q in self._queues.items() if turn.batch is None), key=len)
            last = work if len(longest) <= len(queue) else longest[-1]
            self.leave(last)
            refused = HttpRefusal("busy", "too many questions are being computed; ask again in a moment")
            if last is work:
                raise refused
            last.begun.set_exception(refused)

    def leave(self, work: AnyWork) -> None:
        """Wait for the result no longer.

        What has not begun goes out of the queue. What has keeps its thread until it is done, but not in the caller's
        name.
        """
        queue = self._queues.get(work.turn)
        if work.outcome is not None and not work.interest.lost:
            work.interest.lost = True
            self._count_out(work.turn)
            self._begin_what_may()
        elif work.outcome is None and queue is not None and work in queue:
            queue.remove(work)
            if not queue:
                del self._queues[work.turn]

    def done(self, work: AnyWork) -> None:
        """Notice that a thread is free."""
        self._busy -= 1
        if not work.interest.lost:
            self._count_out(work.turn)
        self._begin_what_may()

    def _waiting(self) -> int:
        return sum(len(queue) for turn, queue in self._queues.items() if turn.batch is None)

    def _begin_what_may(self) -> None:
        while (turn := self._next()) is not None:
            queue = self._queues.pop(turn)
            work = queue.popleft()
            if queue:
                self._queues[turn] = queue  # at the end: the caller's others come before it the next time
            self._busy += 1
            self._under_way[turn] += 1
            self._of_caller[turn.caller] += 1
            self._last[turn.caller] = next(self._number)
            work.outcome = self._start(work)
            if not work.begun.done():
                work.begun.set_result(None)

    def _next(self) -> Turn | None:
        """Return whose turn it is: that of the caller with least under way, then of the one served longest ago."""
        if self._busy < self.ordinary:
            waiting = list(self._queues)
        elif self._busy < 2 * self.ordinary:
            waiting = [turn for turn in self._queues if turn.batch is None and not self._under_way[turn]]
        else:
            return None
        return min(waiting, key=self._claim, default=None)

    def _claim(self, turn: Turn) -> tuple[int, int, int]:
        return self._of_caller[turn.caller], self._last.get(turn.caller, 0), self._under_way[turn]

    def _count_out(self, turn: Turn) -> None:
        _less(self._under_way, turn)
        _less(self._of_caller, turn.caller)
        if turn.caller not in self._of_caller and all(other.caller != turn.caller for other in self._queues):
            self._last.pop(turn.caller, None)


def _less(counter: Counter[Any], key: Any) -> None:
    counter[key] -= 1
    if not counter[key]:
        del counter[key]
