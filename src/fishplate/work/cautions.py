"""What to heed before starting a job that can hurt. Never in place of the local code or a licensed person."""

from __future__ import annotations

from collections.abc import Iterable

_OF_HAZARD = {
    "brakes": "Brakes: follow the maker's instructions, and have the work inspected before the vehicle moves.",
    "steering": "Steering: no heat or weld on steering parts; have the work inspected before the vehicle moves.",
    "suspension": "Suspension: springs hold energy; use the proper compressor and torque at ride height.",
    "welding": "Welding: battery off, fuel and lining away, fire watch; structural welds are a qualified welder's.",
    "fuel": "Fuel: cold and ventilated, no sparks, extinguisher at hand; pressure-test before the first start.",
    "gas": "Gas: installation and leak test belong to a licensed fitter.",
    "high-voltage": "High voltage: isolate, prove dead; only with the qualification your country asks for.",
    "lifting": "Lifting: rated stands on firm ground, never under a jack alone.",
    "airbags": "Airbags and pretensioners: disconnect and wait as the maker says; trained persons only.",
    "pressure": "Pressure: release it before opening anything; vessels need their test.",
    "paint": "Paint: two-part paints hold isocyanates; supplied air, and no one else in the room.",
    "asbestos": "Old linings and gaskets may hold asbestos: don't blow, sand or brush; ask the local authority.",
}
WHO_DECIDES = "Your local vehicle code and a licensed engineer or inspector decide; this is no approval."


def cautions_for(hazards: Iterable[str]) -> tuple[str, ...]:
    """A sentence for each hazard, and who decides; empty without hazards.

    Examples
    --------
    >>> cautions_for(["lifting"])[0]
    'Lifting: rated stands on firm ground, never under a jack alone.'
    """
    named = [text for hazard, text in _OF_HAZARD.items() if hazard in set(hazards)]
    return (*named, WHO_DECIDES) if named else ()
