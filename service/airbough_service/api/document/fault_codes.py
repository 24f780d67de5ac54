"""The codes that faults of a request may bear; a test holds them to what the sources raise."""

from __future__ import annotations

from typing import Final

_CODES: Final = """
above-ducts against-schema altitude-and-pressure always-open ambiguous-decimal ambiguous-machine beyond-run
branch-alone change-inside-hose change-inside-piece change-not-placed change-outside-run chips-missing
contradiction curve-and-figures curve-not-rising cut-end-flange cycle dangling-into dangling-run
depths-not-rising depths-without-readings design-flow-missing digit-grouping duct-missing duct-not-stocked
duplicate-id duplicate-item duplicate-key duplicate-machine duplicate-name duplicate-run duplicate-size
dust-missing elbow-in-hose empty-body entry-missing fan-missing fan-not-scaled figures-do-not-fit
flow-above-suction gauge-and-thickness given-twice hood-inside hose-bend-in-rigid-duct in-forbidden-place
includes-missing join-at-collector join-missing junction-not-covered junction-turnable laps-take-all
leaf-without-hood leak-exponents-differ length length-missing limit-not-followed machine-ids-disagree
malformed-json missing-field missing-value nested-too-deep no-change no-distribution-of-flow no-flow-read
no-gate no-hood no-operating-point no-path no-reading-left no-root no-state-shown no-suction no-way not-a-table
not-at-duct-height not-decodable not-finite not-for-this-law not-for-this-picture not-for-this-question
not-one-value not-utf-8 off-not-after-on one-of-three one-state-a-drawing out-of-range outside-day outside-range
outside-room over-limit overlap parameter-missing parameter-unused path-stands-still path-turns-back pattern
points-not-printed power-law-not-published power-not-rising pressure-missing quantity-grammar reading-of-zero
readings-do-not-fit repeated-parameter rise-longer-than-run rows-do-not-fit same-place shorter-than-fittings
size stock-empty stock-without-advice stretch-without-hose stretches-do-not-fit suction-is-negative
suction-too-deep taper-does-not-fit taper-in-free-run too-large too-many-events too-many-pieces too-many-places
too-many-samples too-many-sets too-many-states too-many-suspects too-many-to-draw too-slow two-kinds-of-reading
two-readings-scale-fan unknown-field unknown-id unknown-loss unknown-machine unknown-path unknown-run
unknown-type unknown-value unknown-word up-to-missing without-price wrong-kind wrong-type
"""
FAULT_CODES: Final = frozenset(_CODES.split())
