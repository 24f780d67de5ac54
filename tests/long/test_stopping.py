"""A batch longer than the ten seconds that once were left to it, and shorter than the thirty that are promised."""

import http.client
import json
import signal
import threading
import time

import pytest

from heavy import hoods_along_a_main
from serving import Served

pytestmark = pytest.mark.long
LASTS = 16.0
REST = f', "question": "gate-states", "request": {json.dumps(hoods_along_a_main(14))}}}\n'


def answers(port, lines):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    body = "".join(f'{{"id": "{number}"{REST}' for number in range(lines))
    connection.request("POST", "/v1/batches", body, {"Content-Type": "application/x-ndjson"})
    told = connection.getresponse().read().splitlines()
    connection.close()
    return told


@pytest.mark.parametrize("workers", [1, 2])
def test_a_long_batch_is_answered_to_its_end_when_the_server_is_told_to_stop(workers, record_property):
    with Served(workers=workers) as served:
        start = time.monotonic()
        answers(served.port, 8)
        lines = max(8, int(8 * LASTS / (time.monotonic() - start)))
        read = []
        asked = threading.Thread(target=lambda: read.extend(answers(served.port, lines)))
        asked.start()
        time.sleep(1.0)
        start = time.monotonic()
        served.process.send_signal(signal.SIGTERM)
        asked.join(60)
        taken = time.monotonic() - start
        assert served.process.wait(60) == 0
    record_property("figures", f"{lines} lines, {taken:.1f} s after the signal")
    print(f"{lines} lines, the last {taken:.1f} s after the signal")
    assert json.loads(read[-1]) == {"lines": lines, "answered": lines, "refused": 0}
    assert len(read) == lines + 1
