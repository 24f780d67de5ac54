"""The first questions of a process, asked by many threads at once: nothing is learned by two of them together."""

import os
import subprocess
import sys
from pathlib import Path

from serving import have_all_compiled

FIRST = """
import json, sys, threading
import airbough
from airbough_service.core.warm import warm
warm()
shop = json.loads(open(sys.argv[1]).read())
client, wrong = airbough.local(), []
start = threading.Barrier(12)
def ask():
    start.wait()
    try:
        client.operating_point(shop)
    except BaseException as error:
        wrong.append(repr(error))
threads = [threading.Thread(target=ask) for _ in range(12)]
[one.start() for one in threads]
[one.join() for one in threads]
assert not wrong, wrong[0]
"""


def test_many_threads_may_ask_first():
    have_all_compiled()
    shop = Path(__file__).parents[2] / "deploy" / "shop.json"
    kept = {name: text for name, text in os.environ.items() if not name.startswith("AIRBOUGH_")}
    told = subprocess.run([sys.executable, "-c", FIRST, shop], capture_output=True, text=True, env=kept, timeout=600)
    assert told.returncode == 0, told.stderr[-2000:]
