"""Vehicle engineering as plain functions, alike for a number and for an array, and as conditions ready to use.

Each subject is a module of functions: what goes in and comes out is in mm, N, MPa, N*mm, kg, s, rad unless its
docstring says otherwise; axes are X rearward, Y to the vehicle's right, Z up. Every docstring names units, where the
formula holds, and its source; modules near brakes, steering, suspension, lifting and high voltage open with a caution.

- `driveline` (a package), `gearing`, `housings`, `mounts`: shafts and joints, ratios, bell housings, power unit mounts
- `wheels`, `arches`: tyre and wheel designations and sizes, room in the arch
- `springs`, `linkages` (packages), `steering`: rates, ride and roll; links in space; lock and turning circle
- `brakes`, `hydraulics`: balance and adhesion; pedals, cylinders and pistons
- `fasteners`, `wiring`: screws; conductors
- `weight`, `coupling`: axle and corner loads; trailers
- `axes`: conversion from and to ISO 8855 and SAE J670
- `catalogue`: every calculation with its units, source and use
- `templates`: conditions for interfaces of a kind, and the dimensions they ask for
- `arguments`, `answers`: what a person writes, read into what a calculation takes; its answer in words, its example
- `sidewall`, `arithmetic`, `tables`: what the subjects share
"""

from .arithmetic import OutOfRange
from .catalogue import Calculation, calculations
from .sidewall import NotASize
from .templates import Template, template, templates, templates_for

__all__ = [
    "Calculation",
    "NotASize",
    "OutOfRange",
    "Template",
    "calculations",
    "template",
    "templates",
    "templates_for",
]
