"""Published values of strength, make-up air and measuring, each computed by our own code."""

import tomllib
from pathlib import Path

import pytest

from handbook.site_computing import computed

CHECKS = tomllib.loads((Path(__file__).parent / "cases" / "site-values.toml").read_text())["check"]


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check["id"])
def test_a_published_value_of_the_site(check):
    assert computed(check) == pytest.approx(check["expected"], abs=check["tolerance"], rel=0.0)
