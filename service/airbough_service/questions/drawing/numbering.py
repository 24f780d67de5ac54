"""From an answer's findings to the numbered remarks of a picture."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from airbough.wire.answer import Finding
from airbough_service.questions.drawing.picture import Remark
from airbough_service.terms.codes import CODES

_RUN: Final = re.compile(r"runs\[(\d+)\]")


def by_code(findings: Sequence[Finding], ids: Sequence[str], *, by_state: bool = False) -> tuple[Remark, ...]:
    """Return one remark for each code, in the order of the findings.

    Args:
        findings: ordered.
        ids: of the runs, in document order.
        by_state: places are states, not runs.
    """
    groups: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.code, finding.severity), []).append(finding)
    return tuple(
        Remark(
            number=number,
            code=code,
            severity=group[0].severity,
            text=_text(code, group),
            places=tuple(dict.fromkeys(place for finding in group if (place := _place(finding, ids, by_state)))),
        )
        for number, ((code, _), group) in enumerate(groups.items(), start=1)
    )


def _text(code: str, group: list[Finding]) -> str:
    """Return the words of one finding, or the meaning of the code where there are several."""
    if len(group) == 1 or code not in CODES:
        return group[0].message
    return CODES[code].meaning


def _place(finding: Finding, ids: Sequence[str], by_state: bool) -> str:
    if by_state:
        return finding.state or ""
    if finding.run is not None:
        return finding.run
    found = _RUN.match(finding.at or "")
    return ids[int(found[1])] if found is not None else ""
