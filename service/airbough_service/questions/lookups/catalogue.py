"""The catalogue itself: constructions, dusts, machines, fittings, sources."""

from __future__ import annotations

from typing import Any

from airbough.wire.reference import (
    CatalogueRequest,
    DuctsAnswer,
    DustsAnswer,
    FittingAnswer,
    FittingParameter,
    FittingsAnswer,
    HoodsAnswer,
    ListedDuct,
    ListedDust,
    ListedFitting,
    ListedMachine,
    MachineSize,
    OtherDuct,
    OtherVelocity,
    Passport,
    SourcesAnswer,
)
from airbough_service import catalogue
from airbough_service.catalogue import (
    Family,
    Parameter,
    UnknownWordError,
)
from airbough_service.core.laws import transport
from airbough_service.terms import out_of_range, units
from airbough_service.terms import sources as documents
from airbough_service.terms.cautions import cautions


def passport_told(passport: catalogue.Passport) -> Passport | None:
    """Return a passport for the wire; None where the caller gave the number."""
    if not passport.source:
        return None
    return _passport(passport)


def _passport(passport: catalogue.Passport) -> Passport:
    return Passport(
        source=passport.source, place=passport.place, how=passport.how, spread=passport.spread, note=passport.note
    )


def ducts(request: CatalogueRequest) -> DuctsAnswer:
    """Answer all constructions of duct."""
    every = catalogue.all_ducts()
    return DuctsAnswer(
        units={},
        preset=request.units,
        ducts=tuple(_duct(duct) for duct in every),
        sources=documents.told(documents.origins(*(one for duct in every for one in _duct_passports(duct)))),
        cautions=cautions("estimates", "bonding-and-grounding", "nonconductive-duct"),
    )


def _duct_passports(duct: catalogue.Duct) -> tuple[catalogue.Passport, ...]:
    law = () if duct.power_law_passport is None else (duct.power_law_passport,)
    return (duct.passport, *law, *(other.passport for other in duct.others))


def _duct(duct: catalogue.Duct) -> ListedDuct:
    return ListedDuct(
        id=duct.id,
        title=duct.title,
        kind=duct.kind,
        roughness=duct.roughness,
        roughness_low=duct.roughness_range[0],
        roughness_high=duct.roughness_range[1],
        conductive=duct.conductive,
        typical_stretch=duct.typical_stretch,
        power_law=duct.power_law is not None,
        power_law_passport=None if duct.power_law_passport is None else _passport(duct.power_law_passport),
        passport=_passport(duct.passport),
        others=tuple(map(_other_duct, duct.others)),
        default_because=duct.default_because,
    )


def _other_duct(other: catalogue.OtherDuct) -> OtherDuct:
    low, high = other.roughness_range or (None, None)
    least, most = other.multiplier_range or (None, None)
    return OtherDuct(
        title=other.title,
        roughness=other.roughness,
        roughness_low=low,
        roughness_high=high,
        multiplier_low=least,
        multiplier_high=most,
        passport=_passport(other.passport),
    )


def dusts(request: CatalogueRequest) -> DustsAnswer:
    """Answer all classes of dust."""
    every = catalogue.all_dusts()
    passports = [one for dust in every for one in (dust.passport, *(other.passport for other in dust.others))]
    return DustsAnswer(
        units={},
        preset=request.units,
        dusts=tuple(_dust(dust) for dust in every),
        sources=documents.told(documents.origins(*passports)),
        cautions=cautions("estimates", *(word for dust in every for word in dust.cautions)),
    )


def _dust(dust: catalogue.Dust) -> ListedDust:
    return ListedDust(
        id=dust.id,
        title=dust.title,
        transport_velocity=dust.transport_velocity,
        upper_velocity=dust.upper_velocity,
        passport=_passport(dust.passport),
        others=tuple(
            OtherVelocity(transport_velocity=other.transport_velocity, passport=_passport(other.passport))
            for other in dust.others
        ),
        default_because=dust.default_because,
    )


def hoods(request: CatalogueRequest) -> HoodsAnswer:
    """Answer all machines with their exhaust flows."""
    every = catalogue.all_machines()
    sizes = [size for machine in every for size in (*machine.sizes, *machine.others)]
    passports = [size.passport for size in sizes] + [size.port.passport for size in sizes if size.port]
    return HoodsAnswer(
        units={},
        preset=request.units,
        machines=tuple(_machine(machine, request.units) for machine in every),
        sources=documents.told(documents.origins(*passports)),
        cautions=cautions("estimates", "sparks-into-wood-dust"),
    )


def _machine(machine: catalogue.Machine, preset: str) -> ListedMachine:
    dust = catalogue.dust(machine.typical_dust) if machine.typical_dust else None
    return ListedMachine(
        id=machine.id,
        title=machine.title,
        note=machine.note,
        sizes=tuple(_size(size, dust, preset) for size in machine.sizes),
        sparks=machine.sparks,
        typical_entry=machine.typical_entry,
        typical_dust=machine.typical_dust,
        others=tuple(_size(size, dust, preset) for size in machine.others),
        default_because=machine.default_because,
    )


def _size(size: catalogue.Size, dust: catalogue.Dust | None, preset: str) -> MachineSize:
    maximum, unit = _largest(size, preset)
    port = size.port
    return MachineSize(
        size=size.size,
        parameter=size.parameter,
        maximum=maximum,
        maximum_unit=unit,
        flow=size.flow,
        flow_read=size.passport.how == "read",
        passport=_passport(size.passport),
        port_diameter=port.diameter if port else None,
        port_flow=transport.flow_at(dust.transport_velocity, port.diameter) if port and dust else None,
        port_passport=_passport(port.passport) if port and port.passport else None,
    )


def _largest(size: catalogue.Size, preset: str) -> tuple[float | None, str | None]:
    """Return the largest parameter that a size covers, in the preset's unit, and that unit; counts have none."""
    if size.maximum is None or size.kind is None:
        return size.maximum, None
    return units.value(size.kind, size.maximum, preset), units.unit(size.kind, preset)


def sources(request: CatalogueRequest) -> SourcesAnswer:
    """Answer the bibliography."""
    return SourcesAnswer(units={}, preset=request.units, bibliography=documents.everything())


def fittings(request: CatalogueRequest) -> FittingsAnswer:
    """Answer all families of fittings, without their tables."""
    every = catalogue.families().values()
    passports = [table.passport for family in every for table in family.tables.values()]
    return FittingsAnswer(
        units={},
        preset=request.units,
        fittings=tuple(_family(family, request.units, with_data=False) for family in every),
        sources=documents.told(documents.origins(*passports)),
        cautions=cautions("estimates"),
    )


def fitting(request: CatalogueRequest, type: str) -> FittingAnswer:  # the path template's word
    """Answer one family with its tables."""
    try:
        family = catalogue.family(type)
    except UnknownWordError as error:
        raise out_of_range.refusal(error, "type", request.units) from None
    return FittingAnswer(
        units={},
        preset=request.units,
        fitting=_family(family, request.units, with_data=True),
        sources=documents.told(documents.origins(*_passports(family))),
        cautions=cautions("estimates"),
    )


def _passports(family: Family) -> tuple[catalogue.Passport, ...]:
    found = [catalogue.passport_of(block) for block in family.block.get("table", ())]
    found += [
        catalogue.passport_of(part)
        for name, part in family.block.items()
        if isinstance(part, dict) and name != "parameters" and "passport" in part
    ]
    return tuple(found)


def _family(family: Family, preset: str, *, with_data: bool) -> ListedFitting:
    data: Any = {key: part for key, part in family.block.items() if key not in _HEAD} if with_data else None
    return ListedFitting(
        type=family.type,
        title=family.title,
        place=family.place,
        refers_to=family.refers_to,
        summary=family.summary,
        parameters=tuple(_parameter(parameter, preset) for parameter in family.parameters.values()),
        passports=tuple(_passport(passport) for passport in _passports(family)),
        data=data,
    )


_HEAD = frozenset({"title", "place", "refers_to", "function", "summary", "parameters"})


def _parameter(parameter: Parameter, preset: str) -> FittingParameter:
    def told(si: float) -> float:
        return out_of_range.in_preset(parameter.name, si, preset)[0]

    word = parameter.kind == "word"
    published = parameter.published
    return FittingParameter(
        name=parameter.name,
        kind=parameter.kind,
        required=parameter.required,
        minimum=None if word else told(parameter.minimum),
        maximum=None if word else told(parameter.maximum),
        published_minimum=told(published[0]) if published else None,
        published_maximum=told(published[1]) if published else None,
        words=parameter.words,
        default=told(parameter.default) if isinstance(parameter.default, float | int) else parameter.default,
        unit=out_of_range.in_preset(parameter.name, 0.0, preset)[1] or None,
    )
