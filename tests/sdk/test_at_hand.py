"""An answer in this process is what its bytes would be read as; the bytes are written when they are asked for."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

import airbough
from airbough.calls import CALLS
from airbough.local import as_written
from airbough.raw_reply import AtHand
from airbough_service.api.document import examples

POSTED = {call.name: call for call in CALLS if call.method == "POST" and not call.path_words}
EXAMPLES = sorted(path for path in Path(examples.__path__[0]).glob("*.json") if path.stem in POSTED)


def parts(value):
    """Return what a value holds, by name or place; of one that holds nothing None."""
    if isinstance(value, msgspec.Struct):
        return {name: getattr(value, name) for name in value.__struct_fields__}
    if isinstance(value, tuple | list):
        return dict(enumerate(value))
    return value if isinstance(value, dict) else None


def places(one, two, path=""):
    """Yield each place where two answers differ, be it in the type of a number."""
    mine, other = parts(one), parts(two)
    if type(one) is not type(two) or (mine is None and one != two):
        yield path, one, two
    elif mine is not None and list(mine) != list(other):
        yield path, list(mine), list(other)
    elif mine is not None:
        for name in mine:
            yield from places(mine[name], other[name], f"{path}.{name}")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("more", [{}, {"explain": True, "resolved": True}], ids=["plain", "explained"])
def test_an_answer_at_hand_is_what_its_bytes_are_read_as(path, more):
    call, document = POSTED[path.stem], msgspec.json.decode(path.read_bytes())
    if more and not {"explain", "resolved"} <= set(call.request.__struct_fields__):
        pytest.skip("explains nothing")
    try:
        reply = getattr(airbough.local(), call.method_name).reply(document | more)
    except airbough.Refused:
        assert more, "an example is answered"
        pytest.skip("not for this question")
    assert isinstance(reply.raw, AtHand) is as_written(call.answer)
    assert list(places(reply.answer(), msgspec.json.decode(reply.content, type=call.answer))) == []
    assert reply.status == 200
    assert reply.raw.media_type == "application/json"


def test_documents_of_requests_are_read_from_their_bytes():
    assert [call.name for call in POSTED.values() if not as_written(call.answer)] == ["quote", "outline", "layout"]
