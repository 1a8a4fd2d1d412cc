"""What to decide, in which order, by when, and what hangs on it.

- `report`: the front door, one pass over the build's decisions
- `sequence`: the order, and where a loop of decisions is torn
- `dates`: by when each must be taken, when it is taken if begun today, until when an option stays open
- `hanging`: what hangs on a decision, and what it holds
- `rules`: options that contradict each other
- `weighing`: options by criteria, with chances of ranks; `weights`: from compared swings; `learning`: what would tell
- `frontier`: whole-vehicle choices by cost, hours and value; `impossible`: why a wish can't be; `programme`: both
  for the solver; `vehicle`: what they are made of
- `model`, `weighed`: results
"""

from .model import DecisionReport, DecisionResult, StaysOpen, Tear
from .report import order_decisions
from .rules import decision_faults

__all__ = ["DecisionReport", "DecisionResult", "StaysOpen", "Tear", "decision_faults", "order_decisions"]
