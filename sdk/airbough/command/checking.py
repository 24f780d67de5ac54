"""The check of many designs: read, answered, written down, judged."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn

from airbough.command import designs as reading
from airbough.command import engine, moved, writing
from airbough.command.checked import Wanted
from airbough.command.journal import Journal, told
from airbough.command.verdict import Row, Threshold, row

ENDINGS: Final = (".ndjson", ".csv", ".parquet")
SHOWN_EVERY: Final = 0.1  # s


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of each design, where, and how far a finding may go."""

    question: str
    service: str | None
    processes: int
    threshold: Threshold
    resume: bool = False
    against: Path | None = None
    cluster: str | None = None
    only: tuple[str, ...] | None = None


@dataclass(slots=True)
class Outcome:
    """What a check came to."""

    rows: list[Row] = field(default_factory=list)
    moved: moved.Moved | None = None

    @property
    def status(self) -> int:
        """0 where all hold, 2 where one is refused, else 1."""
        verdicts = {one.verdict for one in self.rows}
        return 2 if "refused" in verdicts else 1 if "fails" in verdicts else 0


def check(paths: list[Path], into: Path | None, asked: Asked, aside: Console) -> Outcome:
    """Check every design of the files.

    Args:
        paths: files and folders.
        into: where answers or rows go; None: nowhere.
        asked: what is asked.
        aside: where progress is shown.

    Raises:
        FileNotFoundError: for a path where nothing is.
        ValueError: for an ending of `into` that is not written.
        ChangedSince: on resuming, for a design that changed.
        AirboughError: where the service is not reached.
    """
    if into is not None and into.suffix.lower() not in ENDINGS:
        raise ValueError(f"{into}: written are {', '.join(ENDINGS)}")
    if asked.resume and into is None:
        raise ValueError("--resume needs --into: it goes on with that file")
    found = reading.files(paths)
    with _place(into) as place, Journal(place, resume=asked.resume) as journal:
        outcome = Outcome([row(told(entry), asked.threshold) for entry in journal.entries()])  # of before, on resuming
        _answer(found, journal, outcome, _wanted(into, asked), asked, aside)
        if asked.against is not None:
            outcome.moved = moved.moved(asked.against, journal.path)
    if into is not None and into.suffix.lower() != ".ndjson":
        _write(outcome.rows, into)
        place.unlink()  # whole answers were only kept to go on from
    return outcome


def _answer(
    found: list[Path], journal: Journal, outcome: Outcome, wanted: Wanted, asked: Asked, aside: Console
) -> None:
    """Answer what is not answered yet."""
    waiting = journal.missing(reading.designs(found, asked.question))
    with _progress(reading.count(found), len(journal.done), aside) as step:
        for one in engine.answered(waiting, wanted, asked.service, asked.processes, asked.cluster):
            journal.keep(one.line)
            outcome.rows.append(one.row)
            step()


def _wanted(into: Path | None, asked: Asked) -> Wanted:
    """Return what is kept: whole answers only where they are written, or compared."""
    kept = into is not None or asked.against is not None
    whole = asked.against is not None or (into is not None and into.suffix.lower() == ".ndjson")
    return Wanted(asked.threshold, kept, asked.only if asked.only or whole else ())


def _write(rows: list[Row], into: Path) -> None:
    if into.suffix.lower() == ".csv":
        into.write_text(writing.as_csv(rows), encoding="utf-8", newline="")
    else:
        writing.write_parquet(rows, into)


@contextmanager
def _place(into: Path | None) -> Iterator[Path]:
    """Yield where whole answers are kept: the file asked for, beside it, or for as long as the check takes."""
    if into is not None:
        yield into if into.suffix.lower() == ".ndjson" else into.with_name(into.name + ".part")
        return
    with TemporaryDirectory(prefix="airbough-") as folder:
        yield Path(folder) / "answers.ndjson"


@contextmanager
def _progress(total: int, done: int, aside: Console) -> Iterator[Callable[[], None]]:
    """Show how far the check is, where somebody looks on."""
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]}"),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=aside, disable=not aside.is_terminal) as shown:
        task = shown.add_task("checking", total=total, completed=done, rate="")
        shown_at = time.monotonic()

        def step() -> None:
            nonlocal done, shown_at
            done += 1
            if (now := time.monotonic()) < shown_at + SHOWN_EVERY:
                return
            shown_at = now
            shown.update(task, completed=done)
            speed = shown.tasks[0].speed
            if speed:
                shown.update(task, rate=f"{speed:.0f}/s")

        yield step
        shown.update(task, completed=done)
