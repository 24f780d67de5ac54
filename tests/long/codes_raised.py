"""A pytest plugin that writes down every finding code that was raised: `-p long.codes_raised`, to CODES_RAISED."""

import os
from pathlib import Path

from airbough_service.terms import finding


class Kept(dict):
    """The table of codes, which keeps what it was asked for."""

    def __init__(self, table):
        super().__init__(table)
        self.asked = set()

    def __getitem__(self, code):
        self.asked.add(code)
        return super().__getitem__(code)


def pytest_configure(config):
    finding.CODES = Kept(finding.CODES)


def pytest_sessionfinish(session):
    Path(os.environ["CODES_RAISED"]).write_text("\n".join(sorted(finding.CODES.asked)))
