"""When jobs can be worked, what stalls them, and what can be done tonight.

- `model`: inputs and results: `Gates`, `WorkReport`, `ReadyJob`, `StallMonth`, `CriticalPath`
- `simulator`: the front door: `Simulator`; `again`: its runs, in two threads, after a change only those it touches
- `worth`: what an hour more, an evening with help, another bay would bring
- `progress`: hours planned, earned and spent; `gates`: how each gate stands
- `faults`, `windows`, `job_fault`: what can't be met at all, by the fewest things at fault
- `pattern`: mock-up, strip, finish, assembly; a part is in one place at a time
- `critical_path`: forward and backward pass, three-point means
- `phases`: one job a phase, where only parts with phases are listed
- `arrivals`: when what is outside opens, where no plan says so
- `network`, `owner_hours`: jobs cut at stop points; the owner's days
- `hours`, `pace`, `allowances`, `outside`, `rework`, `chance`: draws and what they rest on
- `kernel`, `kernel_tools`, `kernel_types`: the compiled event kernel and its arrays
- `tonight`, `evening_choice`, `laying_out`: what suits an evening, the best set of it, what to lay out
- `stalls`, `never`, `ready`, `cautions`, `assumed`: what is made of the runs
"""

from .arrivals import usual_gates
from .critical_path import critical_path, pert_mean_variance
from .faults import impossible
from .gates import GateState, gate_states
from .model import (
    CriticalPath,
    FloatArray,
    Gates,
    Precedence,
    ReadyJob,
    Spreads,
    StallCause,
    StallMonth,
    Withdrawal,
    WorkReport,
)
from .pattern import four_jobs
from .phases import with_phase_jobs
from .progress import Earned, Progress, progress
from .simulator import Simulator
from .worth import Worth, worth_of_more

__all__ = [
    "CriticalPath",
    "Earned",
    "FloatArray",
    "GateState",
    "Gates",
    "Precedence",
    "Progress",
    "ReadyJob",
    "Simulator",
    "Spreads",
    "StallCause",
    "StallMonth",
    "Withdrawal",
    "WorkReport",
    "Worth",
    "critical_path",
    "four_jobs",
    "gate_states",
    "impossible",
    "pert_mean_variance",
    "progress",
    "usual_gates",
    "with_phase_jobs",
    "worth_of_more",
]
