"""The demonstration: a real server process on loopback, an invented shop asked through the SDK, a report and drawings.

    python deploy/demo.py [--port N] [--into FOLDER] [--stay]

With a person at the terminal the service goes on until Ctrl-C; otherwise it stops once the report is written,
unless --stay is given.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from demo_chapters import chapters
from price_list import parts_list_stock, sizing_stock

from airbough import (
    Client,
    report,
)

HERE = Path(__file__).resolve().parent


def start(port: int) -> tuple[subprocess.Popen[str], str]:
    """Start the service and return its process and its address once it says that it is ready."""
    command = [sys.executable, "-m", "airbough_service", "--host", "127.0.0.1", "--port", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    assert process.stdout is not None
    line = process.stdout.readline()
    if "ready on" not in line:
        process.kill()
        raise SystemExit("the service did not start; is the port taken?")
    return process, line.split("ready on ", 1)[1].split()[0]


def answer(client: Client, into: Path) -> None:
    """Ask the service about the invented shop; print the report and write what belongs in files."""
    document = json.loads((HERE / "shop.json").read_text(encoding="utf-8"))
    into.mkdir(parents=True, exist_ok=True)
    bought = client.parts_list({**document, "stock": parts_list_stock(), "csv": True, "currency": "invented money"})
    parts = [
        report.report(client.operating_point(document)),
        report.gate_states(client.gate_states({**document, "up_to": 2})),
        report.sizing(client.sizing({**document, **QUESTION, "stock": sizing_stock()})),
        report.parts_list(bought),
        *chapters(client, document),
    ]
    text = "\n".join(parts)
    print(text)
    (into / "report.txt").write_text(text, encoding="utf-8")
    (into / "cut-list.csv").write_text(bought.csv or "", encoding="utf-8", newline="")
    for of in ("tree", "fan"):
        (into / f"{of}.svg").write_text(client.drawing({**document, "of": of}).svg, encoding="utf-8")


QUESTION: dict[str, Any] = {
    "objective": "cost",
    "rules": {
        "transport_velocity": "prefer",
        "design_flow": "must",
        "no_narrowing": "must",
        "pressure_available": "must",
        "upper_velocity": "prefer",
    },
    "states": [
        {"name": "planer and drum sander", "open": ["planer", "drum-sander"]},
        {"name": "jointer and band saw", "open": ["jointer", "band-saw"]},
        {"name": "table saw and router", "open": ["table-saw", "router-table"]},
        {"name": "miter saw and disc sander", "open": ["miter-saw", "disc-sander"]},
    ],
    "currency": "invented money",
}


def main() -> None:
    """Run the demonstration."""
    parser = argparse.ArgumentParser(description="Start Airbough and let it answer an invented shop.")
    parser.add_argument("--port", type=int, default=8000, help="0 chooses a free one")
    parser.add_argument("--into", type=Path, default=HERE.parent / "demo-output", help="folder for what is written")
    parser.add_argument("--stay", action="store_true", help="keep the service running without a terminal")
    arguments = parser.parse_args()
    process, address = start(arguments.port)
    try:
        with Client(address) as client:
            answer(client, arguments.into)
        print(f"Written to {arguments.into}. The service answers at {address} (docs at {address}/docs).")
        if arguments.stay or sys.stdin.isatty():
            print("Ctrl-C stops it.")
            process.wait()
    except KeyboardInterrupt:
        pass
    finally:
        process.terminate()
        process.wait(timeout=20)


if __name__ == "__main__":
    main()
