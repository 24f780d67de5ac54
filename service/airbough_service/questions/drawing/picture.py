"""What there is to draw, in SI: made from answers, known to no wire struct, read by the two drawings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Severity: TypeAlias = Literal["danger", "warning", "note"]


@dataclass(frozen=True, slots=True)
class Remark:
    """All findings of one code and severity; its number marks the places.

    Attributes:
        places: ids of the runs that it concerns, or names of states; empty: the whole system.
    """

    number: int
    code: str
    severity: Severity
    text: str
    places: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DrawnRun:
    """One run of the tree.

    Attributes:
        into: index of the run that it flows into; None: the collector.
        start: bore at the upstream end, m.
        end: bore at the downstream end, m.
        straight: goes straight through its junction.
        square: meets the run that it flows into at a right angle, or nearly.
        flow: m3/s; None where unknown.
        share: flow over design flow, of a hood.
        opening: what its gate passes, 0..1; None where it has no gate.
        remarks: numbers of the remarks on it.
    """

    id: str
    into: int | None
    start: float
    end: float
    length: float
    straight: bool = False
    square: bool = False
    hose: bool = False
    machine: str = ""
    flow: float | None = None
    velocity: float | None = None
    design_flow: float | None = None
    share: float | None = None
    idle: bool = False
    opening: float | None = None
    remarks: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class TreePicture:
    """A tree to draw.

    Attributes:
        lines: what stands under the title, one line each.
    """

    title: str
    lines: tuple[str, ...]
    preset: str
    runs: tuple[DrawnRun, ...]
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class Crossed:
    """A crossing of fan and system: m3/s, Pa."""

    flow: float
    pressure: float
    stable: bool = True


@dataclass(frozen=True, slots=True)
class DrawnState:
    """One state of the gates on the fan's diagram.

    Attributes:
        curve: flow and fan static pressure that the system needs; empty where nothing can flow.
        crossings: in order of flow.
        off_curve: end of the fan's curve beyond which the crossing lies, with what the system needs there.
        beyond: which end that is.
    """

    name: str
    curve: tuple[tuple[float, float], ...]
    crossings: tuple[Crossed, ...] = ()
    off_curve: Crossed | None = None
    beyond: Literal["", "high", "low"] = ""


@dataclass(frozen=True, slots=True)
class FanPicture:
    """A fan and its systems to draw.

    Attributes:
        fan: flow and fan static pressure along the curve.
        points: the points that the curve was given by, at this speed and air; none of a guessed one.
    """

    title: str
    lines: tuple[str, ...]
    preset: str
    fan: tuple[tuple[float, float], ...]
    points: tuple[tuple[float, float], ...]
    states: tuple[DrawnState, ...]
    remarks: tuple[Remark, ...] = ()
