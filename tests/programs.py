"""Programs from outside Python that the long tests need: named where they are missing, never passed over."""

import os
import shutil

import pytest

PACKAGES = {
    "soffice": "libreoffice-calc",
    "nginx": "nginx",
    "haproxy": "haproxy",
    "chromium": "chromium",
    "redis-server": "redis-server",
    "node": "nodejs",
    "curl": "curl",
    "npm": "npm",
    "java": "default-jre-headless",
    "kubectl": "kubernetes-client",
}
_FOLDERS = os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin", "/usr/local/sbin"])


def needed(name):
    """Return where a program is, or fail the test with its name."""
    found = shutil.which(name, path=_FOLDERS)
    if found is None:
        pytest.fail(f"`{name}` is missing; on Debian: apt-get install --no-install-recommends {PACKAGES[name]}")
    return found
