from dataclasses import fields

import pytest

from airbough_service.api.settings import (
    SettingError,
    Settings,
    from_environment,
)


def test_without_an_environment_the_defaults_hold():
    assert from_environment({}) == Settings()


def test_each_setting_is_read_by_its_name_in_capitals():
    read = from_environment(
        {"AIRBOUGH_PORT": "9", "AIRBOUGH_RATE": "2.5", "AIRBOUGH_PUBLIC_UNPROTECTED": "yes", "X": "1"}
    )
    assert (read.port, read.rate, read.public_unprotected) == (9, 2.5, True)


@pytest.mark.parametrize(("name", "text"), [("PORT", "http"), ("PORT", "1.5"), ("PUBLIC_UNPROTECTED", "maybe")])
def test_what_cannot_be_read_is_named(name, text):
    with pytest.raises(SettingError, match=f"AIRBOUGH_{name}"):
        from_environment({f"AIRBOUGH_{name}": text})


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("RATE", "nan"), ("RATE", "-5"), ("RATE", "inf"), ("HEAVY_REQUESTS", "0"), ("HEAVY_WAITING", "-100"),
        ("READ_TIMEOUT", "0"), ("COMPUTE_TIMEOUT", "nan"), ("BODY_LIMIT", "-1"), ("WORKERS", "0"),
        ("PORT", "99999999"), ("BURST", "0"), ("LOG_LEVEL", "loud"), ("RUNS_LIMIT", "0"), ("BATCHES", "-1"),
    ],
)  # fmt: skip
def test_what_no_server_can_run_with_is_named(name, text):
    with pytest.raises(SettingError, match=f"AIRBOUGH_{name}"):
        from_environment({f"AIRBOUGH_{name}": text})


def test_all_that_is_wrong_is_named_at_once():
    with pytest.raises(SettingError) as caught:
        from_environment({"AIRBOUGH_PORT": "x", "AIRBOUGH_RATE": "nan", "AIRBOUGH_COLOUR": "red"})
    told = str(caught.value).splitlines()
    assert [line.partition(":")[0] for line in told] == ["AIRBOUGH_PORT", "AIRBOUGH_RATE", "no such setting"]


def test_the_defaults_are_within_their_own_ranges():
    texts = {f"AIRBOUGH_{field.name.upper()}": str(getattr(Settings(), field.name)) for field in fields(Settings)}
    assert from_environment(texts) == Settings()


def test_a_misspelt_setting_is_named():
    with pytest.raises(SettingError, match="AIRBOUGH_PORTS"):
        from_environment({"AIRBOUGH_PORTS": "1"})
