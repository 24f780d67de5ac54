"""A headless Chromium driven over a pipe by its own debugging protocol; it can reach loopback and nothing else."""

import base64
import fcntl
import json
import os
import select
import subprocess
import sys
import time

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--disable-default-apps",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1", "--window-size=1200,1400",
    "--remote-debugging-pipe",
]  # fmt: skip


START = """import os, sys
os.dup2(int(sys.argv[1]), 3)
os.dup2(int(sys.argv[2]), 4)
os.execv(sys.argv[3], sys.argv[3:])"""
"""The two ends of the protocol are file descriptors 3 and 4 of the browser."""


class Browser:
    """One page; `requests` lists every address it asked for, `complaints` what its console said."""

    def __init__(self, program, folder, seconds=60.0):
        read_here, write_there = os.pipe()
        read_there, write_here = os.pipe()
        self._in, self._out = write_here, read_here
        self._pending, self._number, self._session = b"", 0, None
        self._until = time.monotonic() + seconds
        self.requests, self.complaints = [], []
        # Out of the way of 3 and 4, so that neither is overwritten before it is copied.
        ends = [fcntl.fcntl(end, fcntl.F_DUPFD, 10) for end in (read_there, write_there)]
        self._process = subprocess.Popen(
            [sys.executable, "-c", START, *map(str, ends), program, *FLAGS, f"--user-data-dir={folder / 'profile'}"],
            pass_fds=ends,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for end in ends:
            os.close(end)
        os.close(read_there)
        os.close(write_there)

    def __enter__(self):
        try:
            self._attach()
        except BaseException:
            self.__exit__()
            raise
        return self

    def _attach(self):
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Network", "Page", "Runtime", "Log"):
            self.ask(f"{domain}.enable")

    def __exit__(self, *_):
        self._process.terminate()
        self._process.wait(20)
        os.close(self._in)
        os.close(self._out)

    def ask(self, method, **parameters):
        """Send a command and return its result; events on the way are kept."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._in, json.dumps(message).encode() + b"\0")
        while (told := self._next()).get("id") != self._number:
            self._keep(told)
        assert "error" not in told, told
        return told["result"]

    def _next(self):
        while b"\0" not in self._pending:
            left = self._until - time.monotonic()
            ready, _, _ = select.select([self._out], [], [], max(0.0, left))
            piece = os.read(self._out, 1 << 20) if ready else b""
            assert piece, "the browser says nothing any more"
            self._pending += piece
        told, _, self._pending = self._pending.partition(b"\0")
        return json.loads(told)

    def _keep(self, told):
        method, parameters = told.get("method"), told.get("params")
        if method == "Network.requestWillBeSent":
            self.requests.append(parameters["request"]["url"])
        elif method == "Log.entryAdded":
            self.complaints.append(parameters["entry"]["text"])
        elif method == "Runtime.exceptionThrown":
            self.complaints.append(json.dumps(parameters["exceptionDetails"])[:500])

    def evaluate(self, expression):
        """Return what a script says in the page."""
        told = self.ask("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in told, told
        return told["result"].get("value")

    def wait_for(self, expression):
        """Return the first true thing that a script says."""
        while not (told := self.evaluate(expression)):
            assert time.monotonic() < self._until, expression
            time.sleep(0.1)
        return told

    def open(self, address):
        """Open a page and wait until it has loaded."""
        self.ask("Page.navigate", url=address)
        self.wait_for(f"location.href === {json.dumps(address)} && document.readyState === 'complete'")

    def picture(self, path):
        """Write what the window shows."""
        path.write_bytes(base64.b64decode(self.ask("Page.captureScreenshot", format="png")["data"]))
