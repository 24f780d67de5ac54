"""What a pod of the job of many designs runs, run here: its script with folders of this machine for its volumes."""

import os
import re
import subprocess
import sys
from pathlib import Path

from commanding import HOME

VOLUMES = ("designs", "answers", "opt/airbough/compiled", "tmp")


def script(job, folder):
    """Return the script of the job's container, its volumes within a folder, which are made."""
    for place in VOLUMES:
        (folder / place).mkdir(parents=True, exist_ok=True)
    (container,) = job["spec"]["template"]["spec"]["containers"]
    return re.sub(
        r"(?<![\w./])/(designs|answers|opt|tmp)\b", lambda path: f"{folder}{path[0]}", container["command"][2]
    )


def environment(job, index):
    """Return what a pod of this index finds in its environment."""
    (container,) = job["spec"]["template"]["spec"]["containers"]
    told = {one["name"]: one["value"] for one in container.get("env", [])}
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    return {**os.environ, **HOME, **told, "JOB_COMPLETION_INDEX": str(index), "PATH": path}


def start(job, text, index, **streams):
    """Start what the pod of an index runs, a group of processes of its own."""
    return subprocess.Popen(
        ["sh", "-euc", text], env=environment(job, index), start_new_session=True, text=True, **streams
    )


def run(job, text, index):
    """Run it to its end."""
    process = start(job, text, index, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    out, error = process.communicate()
    return subprocess.CompletedProcess(process.args, process.returncode, out, error)
