"""Links that hold an axle or a wheel: instant centres, anti-squat, roll axis, and what changes through travel.

Links carry braking and cornering loads: brackets and welds are for a qualified welder to make or judge, and a changed
geometry for whoever approves the vehicle. The figures take bushes as points that do not give, but where more
than four links hold an axle.

- `centres`: how links let an axle or a wheel move at a moment
- `travel`: where it goes as it rises and rolls
- `holding`: what holds it
"""

from .centres import (
    AxleCentres,
    SideCentre,
    WheelCentres,
    anti_dive,
    anti_squat,
    axle_centres,
    instant_centre,
    roll_centre,
    wheel_centres,
)
from .travel import (
    AxleTravel,
    CarrierTravel,
    MountedTravel,
    StrutTravel,
    arm_through_travel,
    axle_through_travel,
    length_through_travel,
    strut_through_travel,
    wheel_through_travel,
)

__all__ = [
    "AxleCentres",
    "AxleTravel",
    "CarrierTravel",
    "MountedTravel",
    "SideCentre",
    "StrutTravel",
    "WheelCentres",
    "anti_dive",
    "anti_squat",
    "arm_through_travel",
    "axle_centres",
    "axle_through_travel",
    "instant_centre",
    "length_through_travel",
    "roll_centre",
    "strut_through_travel",
    "wheel_centres",
    "wheel_through_travel",
]

HAZARDS = ("suspension", "welding")
