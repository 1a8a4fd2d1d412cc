"""What comes loose if a part, a dimension or a decision changes, before the change is accepted.

- `report`: the front door: fates, hours, figures and words
- `reach`: what rests on the thing that changes, and how surely it is touched
- `lots`: what was bought of a part, when, from whom, for how much
- `fate`: until when each lot can be undone, and at what loss
- `model`: results
"""

from .model import ImpactReport, JobRedo, PartFate
from .report import impact_of

__all__ = ["ImpactReport", "JobRedo", "PartFate", "impact_of"]
