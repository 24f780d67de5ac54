"""The code samples of the pages under `/docs`, as a reader copies them, and a service that they ask."""

import html
import re
import subprocess
import sys
from contextlib import contextmanager

import httpx

from airbough_service.api.admission.keys import digest
from airbough_service.api.document import build
from airbough_service.api.document.pages import contents, samples
from serving import Served

KEY = "a-secret-key"
OPERATIONS = contents.operations(build.build())


@contextmanager
def asked(folder):
    """Yield the address of a running service that asks for the key and signs its answers."""
    made = subprocess.run([sys.executable, "-m", "airbough_service.api.signing"], capture_output=True, check=True)
    (folder / "signing.json").write_bytes(made.stdout)
    (folder / "keys").write_text(f"reader {digest(KEY)}\n")
    with Served(keys_file=folder / "keys", signing_key_file=folder / "signing.json") as served:
        yield served.address


def shown(address, operation, language):
    """Return a sample from the page that a service shows, with the service's own address, as the page's script does."""
    page = httpx.get(f"{address}/docs/{operation.name}").text
    found = re.search(rf'data-language="{language}".*?<code>(.*?)</code>', page, re.DOTALL)
    assert found is not None
    code = html.unescape(found[1])
    assert samples.ADDRESS in code
    return code.replace(samples.ADDRESS, address)
