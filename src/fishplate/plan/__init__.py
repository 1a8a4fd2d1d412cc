"""The main job: from a build to what to decide, measure, buy, collect and do next.

- `main_job`: `plan(situation)`, the flat pipeline
- `situation`: what a plan starts from
- `study`: every engine before anything is bought; `needs`: when parts are needed
- `loop`: what to buy, and the work with it, until dates stop moving
- `market`: from offers to a purchase problem; `demand`, `offered`: what it serves, and facts of offers
- `recosting`: each consignment to the cent
- `draws`: joint deliveries; `told`: what tells a dimension without its part; `opening`: when what holds things opens
- `waiting`: the cost of putting an action off; `exact`: the same by a full re-plan
- `entry_faults`, `cannot_be`: what can't be as it is entered, of the whole, and job by job
- `actions`, `report`, `cash`, `questions`, `granted`, `sentences`: what the person reads
- `tonight`, `at_the_job`: an evening's jobs with what to lay out, read and photograph; what else fits
- `memory`: what an earlier plan worked out
- `compare`: two plans side by side; `ahead`: what is going to happen, as it will be written down
- `data`: the plan for programs
"""

from .compare import Difference, compare
from .data import plan_data
from .exact import check_exactly
from .main_job import plan
from .memory import Memo
from .model import Action, ActionKind, Plan, Question
from .situation import Situation

__all__ = [
    "Action",
    "ActionKind",
    "Difference",
    "Memo",
    "Plan",
    "Question",
    "Situation",
    "check_exactly",
    "compare",
    "plan",
    "plan_data",
]
