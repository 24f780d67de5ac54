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


def test_a_misspelt_setting_is_named():
    with pytest.raises(SettingError, match="AIRBOUGH_PORTS"):
        from_environment({"AIRBOUGH_PORTS": "1"})
