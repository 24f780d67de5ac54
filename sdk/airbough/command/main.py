"""The words of the command, read by typer; what they do stands in the modules beside."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final

import msgspec
import typer
from rich.console import Console

from airbough import documents
from airbough import report as reports
from airbough.calls import CALLS, Call
from airbough.command import checking, engine, laying, moved, outlining, varying, writing
from airbough.command import workbook as workbooks
from airbough.command.journal import ChangedSince
from airbough.command.workbook import template as templates
from airbough.errors import AirboughError, Refused, ServerFailed
from airbough.version import __version__

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Airflow in wood-dust extraction ducts. Asks the service named by --service or AIRBOUGH_BASE_URL; "
    "without one, the engine installed here answers. Exit status: 0 holds, 1 a design fails, "
    "2 refused or unreadable, 3 the service was not reached.",
)
OUT: Final = Console(highlight=False)
ASIDE: Final = Console(stderr=True, highlight=False)

Service = Annotated[str | None, typer.Option("--service", help="Address of the service.", metavar="URL")]
Into = Annotated[Path | None, typer.Option("--into", "-o", help="File to write; left out: standard output.")]
ByName: Final[dict[str, Call[Any, Any]]] = {call.name: call for call in CALLS if not call.path_words}


class Shape(StrEnum):
    """How verdicts are printed."""

    TABLE = "table"
    JSON = "json"
    JUNIT = "junit"


class Preset(StrEnum):
    """Units."""

    US = "us"
    METRIC = "metric"


class Gravity(StrEnum):
    """From which severity on a finding fails a design."""

    NOTE = "note"
    WARNING = "warning"
    DANGER = "danger"


@app.command()
def ask(
    question: Annotated[str, typer.Argument(help="Such as operating-point, balance or friction-loss.")],
    given: Annotated[list[str], typer.Argument(help="A file (- for standard input), or NAME=VALUE pairs.")],
    service: Service = None,
    into: Into = None,
) -> None:
    """Ask one question and print the answer as JSON."""
    with _told_plainly():
        call = _call(question)
        with engine.client(service) as client:
            reply = client.send(call, _request(call, given), ())
        _write(msgspec.json.format(reply.content).decode() + "\n", into)


@app.command()
def report(
    given: Annotated[list[str], typer.Argument(help="A file (- for standard input), or NAME=VALUE pairs.")],
    question: Annotated[str, typer.Option("--question", "-q", help="Any question about a tree.")] = "operating-point",
    service: Service = None,
    into: Into = None,
) -> None:
    """Ask one question about a shop and print the answer as a person reads it."""
    with _told_plainly():
        call = _call(question)
        with engine.client(service) as client:
            answer = client.send(call, _request(call, given), ()).answer()
        _write(writing.plain(reports.report(answer)), into)


@app.command()
def draw(
    given: Annotated[list[str], typer.Argument(help="A file (- for standard input), or NAME=VALUE pairs.")],
    of: Annotated[str, typer.Option("--of", help="What is drawn, such as tree or fan.")] = "tree",
    service: Service = None,
    into: Into = None,
) -> None:
    """Draw a shop as SVG."""
    with _told_plainly():
        call = _call("drawing")
        with engine.client(service) as client:
            _write(client.send(call, _request(call, given, of=of), ()).answer().svg, into)


@app.command()
def check(
    paths: Annotated[list[Path], typer.Argument(help="JSON, YAML, TOML or NDJSON files, or folders of them.")],
    question: Annotated[str, typer.Option("--question", "-q", help="Asked of each design.")] = "operating-point",
    service: Service = None,
    shape: Annotated[Shape, typer.Option("--print", help="How verdicts are printed.")] = Shape.TABLE,
    into: Annotated[
        Path | None, typer.Option("--into", "-o", help=".ndjson keeps whole answers; .csv or .parquet a row a design.")
    ] = None,
    fail_from: Annotated[
        Gravity, typer.Option(help="From which severity on a finding fails a design.")
    ] = Gravity.WARNING,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with --into where it was interrupted.")] = False,
    only: Annotated[
        list[str] | None,
        typer.Option("--only", help="Part of answers kept in an .ndjson, such as hoods.flow; several times."),
    ] = None,
    against: Annotated[
        Path | None, typer.Option("--against", help="An .ndjson of --into of before: what moved since.")
    ] = None,
    processes: Annotated[int, typer.Option(min=1, help="Processes of the engine here.")] = os.cpu_count() or 1,
    cluster: Annotated[
        str | None, typer.Option("--on", help="Scheduler whose workers have the engine.", metavar="dask://HOST:PORT")
    ] = None,
) -> None:
    """Check many designs: which hold, which fail and why."""
    with _told_plainly():
        _call(question)
        parts = tuple(only) if only else None
        asked = checking.Asked(question, service, processes, fail_from.value, resume, against, cluster, parts)
        outcome = checking.check(paths, into, asked, ASIDE)
    if shape is Shape.TABLE:
        writing.table(outcome.rows, OUT)
    else:
        told = writing.as_json(outcome.rows) if shape is Shape.JSON else writing.as_junit(outcome.rows)
        sys.stdout.write(told)
    if outcome.moved is not None:
        moved.tell(outcome.moved, ASIDE if shape is not Shape.TABLE else OUT)
    raise typer.Exit(outcome.status)


@app.command()
def outline(
    given: Annotated[Path, typer.Argument(help="An outline: CSV, JSON, YAML or TOML.")],
    service: Service = None,
    into: Annotated[
        Path | None, typer.Option("--into", "-o", help="Folder for tree.json, drawings and report; left out: printed.")
    ] = None,
) -> None:
    """Make the tree of an outline, and tell what was assumed and how each machine fares alone."""
    with _told_plainly():
        with engine.client(service) as client:
            found = outlining.outlined(given, client)
        if into is None:
            _write(writing.plain(outlining.told(found)), None)
        else:
            for path in outlining.write(found, into):
                OUT.print(str(path), markup=False)


@app.command()
def layout(
    given: Annotated[Path, typer.Argument(help="A room, machines and a price list: JSON, YAML or TOML.")],
    service: Service = None,
    into: Annotated[
        Path | None, typer.Option("--into", "-o", help="Folder for outlines, trees and plans; left out: printed.")
    ] = None,
) -> None:
    """Lay out the ducts of a shop: the cheapest trees, what holds in them, and what is proven of their price."""
    with _told_plainly():
        with engine.client(service) as client:
            answer = laying.laid_out(given, client)
        if into is None:
            _write(writing.plain(laying.told(answer)), None)
        else:
            for path in laying.write(answer, into):
                OUT.print(str(path), markup=False)
    raise typer.Exit(0 if any(one.holds for one in answer.layouts) else 1)


@app.command()
def variants(
    given: Annotated[Path, typer.Argument(help="A tree or an outline, or a whole question with its changes.")],
    sets: Annotated[
        list[str] | None,
        typer.Option("--set", help="PATH=VALUE,VALUE: every combination of all.", metavar="PATH=VALUES"),
    ] = None,
    only: Annotated[
        list[str] | None, typer.Option("--only", help="A figure to tell, such as system.flow; may be repeated.")
    ] = None,
    service: Service = None,
    into: Annotated[
        Path | None, typer.Option("--into", "-o", help=".csv, .ndjson, .json or .parquet; left out: CSV, printed.")
    ] = None,
) -> None:
    """Ask many variants of one design in one question; exit status 1 where one has no answer."""
    with _told_plainly():
        call = _call("variants")
        document = varying.request(documents.plain(given), sets or [], only or [])
        with engine.client(service) as client:
            answer = client.send(call, documents.read(document, call.request), ()).answer()
        if into is None:
            _write(varying.text(answer, ".csv"), None)
        else:
            varying.write(answer, into)
    for number, problem in answer.problems.items():
        ASIDE.print(writing.plain(f"{answer.names[int(number)]}: {problem.detail}"), markup=False)
    raise typer.Exit(1 if answer.problems else 0)


@app.command()
def workbook(
    path: Annotated[Path, typer.Argument(help="An .xlsx, .xlsm, .ods or .csv with a sheet of machines or of runs.")],
    sheet: Annotated[str | None, typer.Option("--sheet", help="Left out: the first with a row of headings.")] = None,
    stock: Annotated[Path | None, typer.Option("--stock", help="A file of what can be bought: prices, cuts.")] = None,
    template: Annotated[
        Preset | None, typer.Option("--template", help="Write a workbook to fill in, in these units.")
    ] = None,
    service: Service = None,
) -> None:
    """Fill a workbook: flows, ducts, findings, parts and cuts in sheets of their own; all else stays as it is."""
    with _told_plainly(), engine.client(service) as client:
        if template is not None:
            templates.write(path, client, template.value)
            OUT.print(str(path), markup=False)
            return
        found = workbooks.fill(path, client, sheet, stock)
    for name, rows in found.tables.items():
        OUT.print(f"{name}: {len(rows) - 1} rows", markup=False)


@app.command()
def serve(
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 takes a free one.")] = 8000,
) -> None:
    """Start the service installed here; settings come from its environment variables."""
    command = [sys.executable, "-m", "airbough_service", "--host", host, "--port", str(port)]
    os.execv(sys.executable, command)


def _version(wanted: bool) -> None:
    if wanted:
        OUT.print(__version__)
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True, help="Print it.")] = False,
) -> None:
    pass


def _call(question: str) -> Call[Any, Any]:
    if question in ByName:
        return ByName[question]
    raise typer.BadParameter(f"{question!r} is none of {', '.join(ByName)}")


def _request(call: Call[Any, Any], given: list[str], **more: object) -> Any:  # of the call's type
    if len(given) == 1 and "=" not in given[0]:
        path = Path("/dev/stdin" if given[0] == "-" else given[0])
        document = documents.of_json(sys.stdin.buffer.read()) if given[0] == "-" else documents.plain(path)
    else:
        pairs = [one.partition("=") for one in given]
        if strange := [one for one, (_, mark, _) in zip(given, pairs, strict=True) if not mark]:
            raise typer.BadParameter(f"{strange[0]!r} is neither the only file nor NAME=VALUE")
        document = {name: _value(text) for name, _, text in pairs}
    if more and isinstance(document, dict):
        document = {**document, **more}
    return documents.read(document, call.request)


def _value(text: str) -> object:
    """Return a number, list or other JSON as such, and any other text as it is."""
    try:
        return msgspec.json.decode(text)
    except msgspec.DecodeError:
        return text


def _write(text: str, into: Path | None) -> None:
    if into is None:
        sys.stdout.write(text if text.endswith("\n") else text + "\n")
    else:
        into.write_text(text, encoding="utf-8", newline="")


@contextmanager
def _told_plainly() -> Iterator[None]:
    """Put what a person can mend into a line on standard error, and into the exit status."""
    try:
        yield
    except (Refused, ServerFailed) as refused:
        _end(str(refused), 2)
    except AirboughError as error:
        _end(str(error), 3)
    except (OSError, ImportError, ValueError, ChangedSince) as error:
        _end(str(error), 2)
    except KeyboardInterrupt:
        _end("interrupted; --resume goes on from here", 130)


def _end(words: str, status: int) -> None:
    ASIDE.print(writing.plain(words), markup=False)
    raise typer.Exit(status)
