"""No request compiles anything: all machine code is ready before the service says that it is."""

import json
import subprocess
import sys
from pathlib import Path

PROGRAM = """
import json, sys
from numba.core import event
from airbough_service.core.warm import warm
from airbough_service.combined import registry as questions

warm()
compiled = []

class Listener(event.Listener):
    def on_start(self, event):
        compiled.append(event.data["dispatcher"].py_func.__qualname__)
    def on_end(self, event):
        pass

event.register("numba:compile", Listener())
import msgspec
from airbough.calls import CALLS
asked = 0
for call in CALLS:
    for path in sys.argv[1:]:
        if path.rsplit("/", 1)[-1] == call.name + ".json" and call.method == "POST":
            request = msgspec.json.decode(open(path).read(), type=call.request)
            questions.answer(call.name, request)
            asked += 1
print(json.dumps({"compiled": compiled, "asked": asked}))
"""


def test_no_request_compiles() -> None:
    """After warming, every packaged example of a POST question is answered without compiling a function."""
    folder = Path(__file__).parents[2] / "service" / "airbough_service" / "api" / "document" / "examples"
    command = [sys.executable, "-c", PROGRAM, *(str(path) for path in folder.glob("*.json"))]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True)
    found = json.loads(done.stdout.splitlines()[-1])
    assert found["asked"] >= 2
    assert found["compiled"] == []
