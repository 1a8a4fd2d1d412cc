"""When jobs can be worked, what stalls them, and what can be done tonight.

- `model`: inputs and results: `Gates`, `WorkReport`, `ReadyJob`, `StallMonth`, `CriticalPath`
- `simulator`: the front door: `Simulator`
- `critical_path`: forward and backward pass, three-point means
- `phases`: one job a phase, where only parts with phases are listed
- `arrivals`: when what is outside opens, where no plan says so
- `network`, `hours`, `owner_hours`: jobs cut at stop points; draws; the owner's days
- `kernel`, `kernel_types`: the compiled event kernel and its arrays
- `stalls`, `never`, `ready`, `cautions`: what is made of the runs
"""

from .arrivals import usual_gates
from .critical_path import critical_path, pert_mean_variance
from .model import (
    CriticalPath,
    FloatArray,
    Gates,
    Precedence,
    ReadyJob,
    Spreads,
    StallCause,
    StallMonth,
    WorkReport,
)
from .phases import with_phase_jobs
from .simulator import Simulator

__all__ = [
    "CriticalPath",
    "FloatArray",
    "Gates",
    "Precedence",
    "ReadyJob",
    "Simulator",
    "Spreads",
    "StallCause",
    "StallMonth",
    "WorkReport",
    "critical_path",
    "pert_mean_variance",
    "usual_gates",
    "with_phase_jobs",
]
