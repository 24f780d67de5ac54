"""The JavaScript module asks by the same list of calls."""

from pathlib import Path

from airbough_service.api.document import build


def test_the_table_of_calls_is_the_one_of_the_list():
    checked_in = Path(__file__).parents[2] / "sdk" / "js" / "calls.js"
    assert checked_in.read_bytes() == build.javascript_calls()
