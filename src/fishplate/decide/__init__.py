"""What to decide, in which order, by when, and what hangs on it.

- `report`: the front door, one pass over the build's decisions
- `sequence`: the order, and where a loop of decisions is torn
- `dates`: by when each must be taken, and when it is taken if begun today
- `hanging`: what hangs on a decision, and what it holds
- `rules`: options that contradict each other
- `model`: results
"""

from .model import DecisionReport, DecisionResult, Tear
from .report import order_decisions

__all__ = ["DecisionReport", "DecisionResult", "Tear", "order_decisions"]
