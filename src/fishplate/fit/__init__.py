"""Does it go together, how sure, and what to measure to be sure.

- `model`: the report and what it is made of
- `readings`: what is known of each dimension, from its readings and their spreads
- `points`, `draws`: joint draws of all dimensions; a shared dimension is one random variable
- `sampling`: every condition on the same draws: chances, their sampling error, margins
- `worst_case`: interval or corners, and root-sum-square
- `shares`: which dimensions the variance of a condition comes from
- `verdicts`: fits, in doubt, does not fit, not known
- `rework`: what a misfit costs, found now or found late
- `measure_next`: what a perfect reading of a dimension would save
- `misfit`: the chance that a part does not go where it must
- `cautions`, `sentences`: words
- `assess`: the front door
"""

from .assess import assess
from .model import ConditionResult, FitReport, InterfaceResult, MeasureCandidate, Verdict

__all__ = ["ConditionResult", "FitReport", "InterfaceResult", "MeasureCandidate", "Verdict", "assess"]
