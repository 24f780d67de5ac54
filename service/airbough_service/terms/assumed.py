"""What is said where the catalogue had to choose: how elbows are made, how far a hose is pulled, what hoses lose."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from airbough_service import catalogue
from airbough_service.catalogue import Duct
from airbough_service.core.laws.friction import friction_factor, reynolds_number
from airbough_service.core.laws.transport import flow_at

_MOST: Final = 1024  # bores and airs of which these sentences are remembered
_SLACK: Final = 0.95  # of full length: a hose hung by hand, the example that a person can picture
_USUAL: Final = ("spiral-galvanized", "sawdust")  # duct that a hose is told against, and dust whose velocity it is at


def construction(bore: float, which: str) -> str:
    """Return the sentence on elbows without a construction: what was taken, and what others lose in this bore [m]."""
    return f"{which} of no given construction, taken as {_constructions(bore)}"


@lru_cache(_MOST)
def _constructions(bore: float) -> str:
    """Return what elbows are taken as, and what that and the other constructions lose in this bore [m]."""
    parameter = catalogue.family("elbow").parameters["construction"]
    lost = {
        word: catalogue.fitting_loss("elbow", {"angle": 90.0, "construction": word}, bore).coefficient
        for word in parameter.words
    }
    least, most = min(lost, key=lambda word: lost[word]), max(lost, key=lambda word: lost[word])
    own = str(parameter.default)
    return (
        f"{own}: at 90 deg in this diameter that loses {lost[own]:.2f} "
        f"velocity pressures, the others {lost[least]:.2f} ({least}) to {lost[most]:.2f} ({most})"
    )


def stretch(hose: Duct, value: float, bore: float, of: str) -> str:
    """Return the sentence on a hose whose stretch was not given: what was taken, and what a little slack would cost."""
    return f"no stretch was given for the {of}; {_stretch(hose.id, value, bore)}"


@lru_cache(_MOST)
def _stretch(word_of_hose: str, value: float, bore: float) -> str:
    """Return the end of the sentence of `stretch`, of the hose of this word."""
    hose = catalogue.duct(word_of_hose)
    factor = catalogue.hose_slack(hose, value, bore).multiplier
    slack = catalogue.hose_slack(hose, _SLACK, bore).multiplier
    taken = "it was taken as fully stretched"
    if value < 1.0:
        taken = f"{100.0 * value:g} % of its full length was taken, {factor:.2g} times what it loses fully stretched"
    return f"{taken}; at {100.0 * _SLACK:g} % of its length it loses {slack:.2g} times what it loses fully stretched"


def hose_range(hose: Duct, bore: float, density: float, viscosity: float) -> tuple[str, float]:
    """Return the sentence on what a stretched hose loses against spiral duct of one bore [m], and that ratio."""
    return _hose_range(hose.id, bore, density, viscosity)


@lru_cache(_MOST)
def _hose_range(word_of_hose: str, bore: float, density: float, viscosity: float) -> tuple[str, float]:
    """Return what `hose_range` does, of the hose of this word."""
    hose = catalogue.duct(word_of_hose)
    word, dust = _USUAL
    flow = flow_at(catalogue.dust(dust).transport_velocity, bore)
    reynolds = float(reynolds_number(flow, bore, density, viscosity))
    spiral = float(friction_factor(reynolds, catalogue.duct(word).roughness / bore))
    width = math.exp(hose.passport.spread)
    low, own, high = (
        float(friction_factor(reynolds, roughness / bore)) / spiral
        for roughness in (hose.roughness / width, hose.roughness, hose.roughness * width)
    )
    text = f"{hose.title}: fully stretched it loses about {own:.2g} times as much as spiral duct of its diameter, "
    text += f"{low:.2g} to {high:.2g} times by its make"
    bound = catalogue.rib_bound(hose, bore)
    if bound is not None:
        text += f"; pushed together, at most {own * bound:.2g} times, since its wall folds no deeper than its rib"
    return text, own
