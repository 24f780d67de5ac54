"""What a person reads in findings and cautions: words of the trade, no names of fields, codes or machine units."""

import json
import re

import msgspec
import pytest

import asking
from airbough.wire.answer import Finding
from airbough_service.terms.codes import CODES
from airbough_service.terms.refusal import Refusal

NOT_PROSE = re.compile(r"`|_|/v1/|\^|inH2O|ft/min|\bbores?\b|\bmend|e[+-]\d\d|[1-9]\d*\.\d{4,}|(?<![\d.])\d{5,}")
CODE_WORDS = {code for code in CODES if "-" in code}


def found():
    """Give every finding of the examples and of the catalogue's questions, each message once."""
    seen = {}
    for name, request in asking.questions():
        try:
            answer = asking.ask(name, json.loads(json.dumps(request)))
        except Refusal:
            continue
        for item in getattr(answer, "findings", ()):
            if isinstance(item, Finding):
                seen.setdefault(item.message, item)
    return list(seen.values())


@pytest.fixture(scope="module")
def findings() -> list[Finding]:
    return found()


def test_no_field_code_or_machine_unit_stands_in_a_sentence(findings):
    assert len(findings) > 40
    bad = [item.message for item in findings if NOT_PROSE.search(item.message)]
    bad += [
        item.suggestion.text
        for item in findings
        if item.suggestion is not None and NOT_PROSE.search(item.suggestion.text)
    ]
    assert bad == []


def test_no_sentence_names_a_code(findings):
    spoken = msgspec.json.encode([item.message for item in findings]).decode()
    assert [code for code in CODE_WORDS if code in spoken] == []


def test_the_meaning_of_a_code_is_prose_too():
    assert [code for code, told in CODES.items() if NOT_PROSE.search(told.meaning)] == []
