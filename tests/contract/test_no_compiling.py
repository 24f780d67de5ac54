"""No request compiles anything: all machine code that it needs is ready before it is answered, or it is refused."""

import json
import subprocess
import sys
from pathlib import Path

from airbough.calls import CALLS
from serving import have_all_compiled

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
    have_all_compiled()
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True)
    found = json.loads(done.stdout.splitlines()[-1])
    assert found["asked"] >= 2
    assert found["compiled"] == []


LIGHT_PROGRAM = """
import gc, json, threading
import msgspec
from numba.core.caching import NullCache
from numba.core.dispatcher import Dispatcher
from airbough.calls import CALLS
from airbough_service.api.document import examples
from airbough_service.combined import registry
from airbough_service.core import compiling
from airbough_service.core.warm import warm
from airbough_service.core.warm_parts import LIGHT
from airbough_service.terms.refusal import Refusal

warm(LIGHT)
for thing in gc.get_objects():
    if isinstance(thing, Dispatcher):
        thing._cache = NullCache()  # what else the folder holds is not compiled yet
class StillCompiledError(Exception):
    pass

told = {}

def ask(call, **more):
    asked = examples.request(call.name) | more
    words = {name: asked.pop(name) for name in call.path_words}
    name = " ".join([call.name, *(more.values() if "of" in more else more)])
    try:
        registry.answer(call.name, msgspec.convert(asked, call.request), **words)
        told[name] = "answered"
    except StillCompiledError:
        told[name] = "refused"
    except Refusal:
        told[name] = "no such question"

def ask_all():
    for call in CALLS:
        ask(call)
        for more in ({"explain": True}, {"resolved": True}, {"advice": True}, {"uncertainty": {}}):
            if more.keys() <= set(call.request.__struct_fields__):
                ask(call, **more)
        if call.name == "drawing":
            for of in ("tree", "fan", "pairs"):
                ask(call, of=of)

with compiling.refused_elsewhere(StillCompiledError):
    asking = threading.Thread(target=ask_all)
    asking.start()
    asking.join()
print(json.dumps(told))
"""

FURTHER = {"sizing", "quote", "layout", "diagnosis"}
"""As deploy/README.md tells: with `uncertainty`, these are what is refused until all is compiled."""


def test_of_the_questions_only_the_further_ones_need_more_than_the_light_parts() -> None:
    command = [sys.executable, "-c", LIGHT_PROGRAM]
    have_all_compiled()
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True)
    told = {name: said for name, said in json.loads(done.stdout.splitlines()[-1]).items() if said != "no such question"}
    refused = {name for name, said in told.items() if said == "refused"}
    assert {name for name in told if " " not in name} - refused == {call.name for call in CALLS} - FURTHER
    beside = {name for name in told if " " in name and name.split()[0] not in FURTHER}
    assert {"operating-point explain", "operating-point advice", "balance resolved", "drawing pairs"} <= beside
    assert beside & refused == {name for name in beside if name.endswith(" uncertainty")} != set()
