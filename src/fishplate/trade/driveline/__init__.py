"""Shafts and their joints: angles in space, speed variation, lines of several joints, critical speed, slip.

A shaft that lets go beats through the floor: it is measured on rated stands with nothing turning, and made and balanced
by a shaft shop. Angles are set at loaded height; the figures leave out wear, imbalance and play.

- `angles`: of shafts and joints in space, and through travel
- `variation`: of speed within a turn, and the angles it allows
- `critical`: the speed at which a shaft whirls
"""

from .angles import ShaftThroughTravel, joint_angle, joint_angles_in_line, shaft_angle, shaft_through_travel
from .critical import critical_speed, critical_speed_lumped
from .variation import (
    LineInSpace,
    SpeedExtremes,
    angle_for_uniformity,
    angle_for_variation,
    angle_limit,
    line_angle,
    line_in_space,
    line_speed_extremes,
    non_uniformity,
    second_joint_limit,
    speed_extremes,
    speed_ratio,
)

HAZARDS = ("lifting",)

__all__ = [
    "LineInSpace",
    "ShaftThroughTravel",
    "SpeedExtremes",
    "angle_for_uniformity",
    "angle_for_variation",
    "angle_limit",
    "critical_speed",
    "critical_speed_lumped",
    "joint_angle",
    "joint_angles_in_line",
    "line_angle",
    "line_in_space",
    "line_speed_extremes",
    "non_uniformity",
    "second_joint_limit",
    "shaft_angle",
    "shaft_through_travel",
    "speed_extremes",
    "speed_ratio",
]
