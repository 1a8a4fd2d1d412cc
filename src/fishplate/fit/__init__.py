"""Does it go together, how sure, and what to measure to be sure.

- `model`: the report and what it is made of
- `readings`: what is known of each dimension, from its readings and their spreads
- `growth`, `mating`: lengths that grow by heat; designations that mate or only nearly do
- `direction_numbers`, `points`, `normal`: evenly spread points, and scores
- `draws`: joint draws of all dimensions; a shared dimension is one random variable
- `sampling`: every condition on the same draws: chances, their sampling error, margins
- `worst_case`: interval or corners, and root-sum-square
- `shares`: which dimensions the variance of a condition comes from
- `verdicts`: fits, in doubt, does not fit, not known
- `rework`: what a misfit costs, found now or found late
- `preposterior`, `several_readings`, `worth`: what a reading is worth before it is taken, alone and with others
- `ways`, `instruments`, `choosing`, `measure_next`: what can be done to know better, and what to do within an evening
- `looks`: dry runs still to be made
- `provision`, `tolerance_budget`: what to make while its counterpart is unknown; what must be known to what spread
- `usual`: places where parts usually meet, offered where they are not listed yet
- `misfit`: the chance that a part does not go where it must
- `cautions`, `sentences`, `measure_sentences`: words
- `study`: what one assessment works on; `assess`: the front door
"""

from .assess import assess
from .confirmed import confirmed_by
from .measure_next import Measure, MeasurePlan, measure_next
from .model import SEE, ConditionResult, FitReport, InterfaceResult, Look, MeasureCandidate, Verdict
from .provision import Provision, provision
from .study import Study, study
from .tolerance_budget import Need, ToleranceBudget, tolerance_budget
from .usual import UsualInterface, usual_interfaces, with_usual
from .ways import Way, answer_weeks, supplier_to_ask

__all__ = [
    "SEE",
    "ConditionResult",
    "FitReport",
    "InterfaceResult",
    "Look",
    "Measure",
    "MeasureCandidate",
    "MeasurePlan",
    "Need",
    "Provision",
    "Study",
    "ToleranceBudget",
    "UsualInterface",
    "Verdict",
    "Way",
    "answer_weeks",
    "assess",
    "confirmed_by",
    "measure_next",
    "provision",
    "study",
    "supplier_to_ask",
    "tolerance_budget",
    "usual_interfaces",
    "with_usual",
]
