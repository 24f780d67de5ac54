"""An echo of the operating-point question without physics: same framework, server, structs and bytes out."""

import argparse
import socket
from pathlib import Path

import msgspec
from granian.constants import Interfaces
from litestar import Litestar, Request, Response, post

import airbough
from airbough.calls import OPERATING_POINT

ROOT = Path(__file__).resolve().parents[2]
ANSWER = msgspec.json.encode(
    airbough.local().operating_point(airbough.load(ROOT / "deploy" / "shop.json", airbough.OperatingPointRequest))
)
DECODER = msgspec.json.Decoder(OPERATING_POINT.request)
ANSWERS = msgspec.json.Decoder(OPERATING_POINT.answer)


@post("/echo", status_code=200)
async def echo(request: Request) -> Response:
    """Decode the request and an answer, encode the answer."""
    DECODER.decode(await request.body())
    return Response(msgspec.json.encode(ANSWERS.decode(ANSWER)), media_type="application/json")


app = Litestar([echo], openapi_config=None)


def main() -> None:
    """Serve on a free port of loopback."""
    from granian import Granian

    parser = argparse.ArgumentParser()
    parser.add_argument("--port", type=int, default=0)
    port = parser.parse_args().port
    if port == 0:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
    server = Granian(f"{Path(__file__).stem}:app", address="127.0.0.1", port=port, interface=Interfaces.ASGI, workers=1,
                     log_enabled=False, working_dir=Path(__file__).parent)  # fmt: skip
    server.on_startup(lambda: print(f"ready on http://127.0.0.1:{port}", flush=True))
    server.serve()


if __name__ == "__main__":
    main()
