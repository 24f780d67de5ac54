"""The Python of the pages under `/docs`, run as they show it against a real service that asks for a key."""

import pytest

from samples_shown import KEY, OPERATIONS, asked, shown


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with asked(tmp_path_factory.mktemp("keys")) as address:
        yield address


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.name)
def test_the_python_of_every_operation_prints_its_answer(operation, address, monkeypatch, capsys):
    monkeypatch.setenv("AIRBOUGH_API_KEY", KEY)
    scope = {}
    exec(compile(shown(address, operation, "Python"), operation.name, "exec"), scope)
    if "client" in scope:
        scope["client"].close()
    said = capsys.readouterr().out.strip()
    assert said
    if operation.path.startswith("/v1/"):
        assert "None" not in said.split()
    else:
        assert said.startswith("200 ")
