"""What to mind where a misfit can hurt someone."""

from __future__ import annotations

from ..build import Build
from ..build.cautions import hazard_lines, of_figures
from ..build.interfaces import Interface


def caution_for(build: Build, interface: Interface, *, grave: bool) -> str:
    """What to mind at an interface, from its own hazards and its systems'; empty if it has none and is not grave."""
    return " ".join(cautions_at(build, interface)) if grave or interface_lines(build, interface) else ""


def cautions_at(build: Build, interface: Interface) -> tuple[str, ...]:
    """A sentence for each hazard of an interface and of its systems, and who decides."""
    return (*interface_lines(build, interface), of_figures())


def interface_lines(build: Build, interface: Interface) -> tuple[str, ...]:
    """A sentence for each hazard of an interface and of its systems."""
    systems = [build.find("systems", system) for system in interface.systems]
    return hazard_lines([*interface.hazards, *(hazard for system in systems for hazard in system.hazards)])
