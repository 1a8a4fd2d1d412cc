"""Springs and dampers: rates, stress, lengths under load, frequencies, roll.

Springs carry the vehicle and store enough to kill: compress them only with tools made for it, and cycle the suspension
without them. The figures leave out end friction, bushes and ageing.

- `elements`: springs by themselves
- `fitted`: together, leaning, seen at the wheel, under load
- `movement`: how the vehicle swings and rolls on them
"""

from .elements import (
    air_rate,
    coil_stress,
    leaf_rate,
    leaf_stress,
    solid_length,
    spring_rate,
    torsion_bar_rate,
    torsion_bar_stress,
)
from .fitted import (
    inclined_rate,
    loaded_length,
    measured_rate,
    parallel_rate,
    ride_error,
    series_rate,
    static_deflection,
    wheel_rate,
)
from .movement import (
    bar_roll_rate,
    critical_damping,
    damping_share,
    natural_frequency,
    roll_angle,
    roll_rate,
)

__all__ = [
    "air_rate",
    "bar_roll_rate",
    "coil_stress",
    "critical_damping",
    "damping_share",
    "inclined_rate",
    "leaf_rate",
    "leaf_stress",
    "loaded_length",
    "measured_rate",
    "natural_frequency",
    "parallel_rate",
    "ride_error",
    "roll_angle",
    "roll_rate",
    "series_rate",
    "solid_length",
    "spring_rate",
    "static_deflection",
    "torsion_bar_rate",
    "torsion_bar_stress",
    "wheel_rate",
]

HAZARDS = ("suspension",)
