"""An invented seller's server: it keeps the price list and the key, and takes no order that it has not checked.

The page sends what its visitor typed and nothing of prices. This server puts the stock to it, asks the Airbough service
for a quote or for layouts, and hands the signed answer on, byte for byte. An order comes back with its quote: the
signature must hold for the request that this server itself would send today, so neither a price nor a pipe of it was
changed on the way.

    python deploy/quote/server.py --service http://127.0.0.1:8000 [--port 8090]

A key, where the service asks for one, stands in AIRBOUGH_API_KEY: what follows a command, others on the machine see.

The trusted public keys are read from the service at the start; hand them over by a way of your own where you can.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import sys
from datetime import UTC, date, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import httpx

from airbough import calls, signatures
from airbough.errors import AirboughError

HERE = Path(__file__).resolve().parent
FILES = {
    "/": ("index.html", "text/html; charset=utf-8"),
    "/page.css": ("page.css", "text/css; charset=utf-8"),
    **{f"/{file.name}": (file.name, "text/javascript; charset=utf-8") for file in HERE.glob("*.js")},
}
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}
MOST_BYTES = 1_000_000
SECONDS = 20.0  # that a visitor may be silent
LAYOUTS = 3  # at most, side by side
PASSED_ON = ("Airbough-Signature", "Retry-After")


class RefusedError(Exception):
    """An order that is not taken; the word says why, and the page has it in its visitor's language."""


class Seller:
    """The price list, the key, and what may be ordered."""

    def __init__(self, service: str, key: str | None, prices: Path = HERE / "prices.json") -> None:
        headers = {"Authorization": f"Bearer {key}"} if key else {}
        self._service = httpx.Client(base_url=service, headers=headers, timeout=60.0)
        self._prices = prices
        self._keys = self._service.get("/.well-known/jwks.json").raise_for_status().json()

    def stock(self, units: str) -> dict[str, Any]:
        """Return the stock with prices by the foot or by the metre."""
        listed = json.loads(self._prices.read_text("utf-8"))
        by, other = ("per_foot", "per_metre") if units == "us" else ("per_metre", "per_foot")
        ducts = [
            {name: value for name, value in one.items() if name not in (by, other)} | {"price_per_length": one[by]}
            for one in listed["ducts"]
        ]
        return {name: value for name, value in listed.items() if name != "note"} | {"ducts": ducts}

    def question(self, outline: dict[str, Any], states: Any = None) -> bytes:
        """Return the request for what a visitor typed: the same bytes for the same outline, states and price list."""
        units = "us" if outline.get("units") == "us" else "metric"
        asked = {
            "units": units,
            "outline": outline,
            "stock": self.stock(units),
            "drawings": ["tree"],
            "csv": True,
            **({"states": states} if states else {}),
        }
        return json.dumps(asked, sort_keys=True, separators=(",", ":")).encode()

    def quote(self, outline: dict[str, Any], states: Any = None) -> httpx.Response:
        """Ask the service."""
        return self._asked("/v1/quotes", self.question(outline, states))

    def layout(self, asked: dict[str, Any]) -> httpx.Response:
        """Ask the service for layouts of a room, with this seller's stock."""
        units = "us" if asked.get("units") == "us" else "metric"
        whole = {**asked, "units": units, "stock": self.stock(units), "alternatives": LAYOUTS}
        return self._asked("/v1/outlines/layout", json.dumps(whole).encode())

    def _asked(self, path: str, body: bytes) -> httpx.Response:
        return self._service.post(path, content=body, headers={"Content-Type": "application/json"})

    def order(self, outline: dict[str, Any], answer: str, signature: str | None, states: Any = None) -> dict[str, Any]:
        """Return what is ordered and its price, once it is sure to be this seller's own quote.

        Raises:
            RefusedError: with the reason.
        """
        question = self.question(outline, states)
        try:
            _, quote = signatures.opened(calls.QUOTE, question, answer.encode(), signature, self._keys)
        except AirboughError:
            raise RefusedError("altered") from None
        if quote.stock_digest != signatures.stock_digest(json.loads(question)["stock"]):
            raise RefusedError("altered")
        if quote.expires is not None and date.fromisoformat(quote.expires) < datetime.now(UTC).date():
            raise RefusedError("expired")
        if quote.price is None or not quote.price_complete:
            raise RefusedError("incomplete")
        return {
            "price": str(quote.price),
            "currency": quote.currency,
            "lines": len(quote.parts.lines) if quote.parts else 0,
        }


class Handler(BaseHTTPRequestHandler):
    """Serves the page, quotes and orders."""

    seller: Seller
    protocol_version = "HTTP/1.1"
    timeout = SECONDS

    def do_GET(self) -> None:
        """Serve a file of the page, or the machines."""
        path = self.path.partition("?")[0]
        if path in FILES:
            name, media = FILES[path]
            self._say(200, (HERE / name).read_bytes(), media)
        else:
            self._tell(404, {"error": "not-found"})

    def do_POST(self) -> None:
        """Quote, or take an order."""
        stated = self.headers.get("Content-Length") or ""
        length = int(stated) if stated.isascii() and stated.isdigit() else 0
        if not 0 < length <= MOST_BYTES:
            self.close_connection = True
            return self._tell(413 if length else 411, {"error": "too-large" if length else "not-read"})
        try:
            asked = json.loads(self.rfile.read(length))
            if self.path == "/layout":
                room = dict(asked["layout"])
                return self._pass_on(lambda: self.seller.layout(room))
            outline, states = asked["outline"], asked.get("states")
            if self.path == "/quote":
                return self._pass_on(lambda: self.seller.quote(outline, states))
            if self.path == "/order":
                return self._tell(200, self.seller.order(outline, asked["answer"], asked.get("signature"), states))
        except RefusedError as refused:
            return self._tell(409, {"error": str(refused)})
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
            return self._tell(400, {"error": "not-read"})
        return self._tell(404, {"error": "not-found"})

    def _pass_on(self, ask: Any) -> None:
        try:
            told = ask()
        except httpx.HTTPError:
            self._tell(502, {"error": "away"})
            return
        further = {name: told.headers[name] for name in PASSED_ON if name in told.headers}
        self._say(told.status_code, told.content, told.headers["content-type"], further)

    def _tell(self, status: int, told: dict[str, Any]) -> None:
        self._say(status, json.dumps(told).encode(), "application/json")

    def _say(self, status: int, body: bytes, media: str, further: dict[str, str] | None = None) -> None:
        self.send_response(status)
        for name, value in {**HEADERS, **(further or {})}.items():
            self.send_header(name, value)
        self.send_header("Content-Type", media)
        self.send_header("Content-Length", str(len(body)))
        with contextlib.suppress(ConnectionError):  # a page that has asked anew waits no longer
            self.end_headers()
            self.wfile.write(body)

    def log_message(self, *_: Any) -> None:
        """Say nothing: what visitors type is nobody's business."""


def main() -> None:
    """Serve until interrupted."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--service", default="http://127.0.0.1:8000")
    parser.add_argument("--port", type=int, default=8090)
    asked = parser.parse_args()
    Handler.seller = Seller(asked.service, os.environ.get("AIRBOUGH_API_KEY"))
    with ThreadingHTTPServer(("127.0.0.1", asked.port), Handler) as server:
        sys.stdout.write(f"the quoting page is ready on http://127.0.0.1:{server.server_port}/\n")
        sys.stdout.flush()
        with contextlib.suppress(KeyboardInterrupt):
            server.serve_forever()


if __name__ == "__main__":
    main()
