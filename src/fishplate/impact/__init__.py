"""What comes loose if anything of a build changes, before the change is accepted.

- `report`: the front doors: what comes loose if a thing changes at all; if a build becomes another
- `changes`, `told`: what differs between two builds, noun by noun, and in words
- `seeds`, `reach`: where a change begins; what rests on it, and how surely it is touched
- `effects`: what is over, has to be bought, costs otherwise; days that move
- `timing`: whose dates may move; `groups`: decisions that are settled together
- `lots`: what was bought of a part, when, from whom, for how much
- `fate`: until when each lot can be undone, and at what loss
- `moments`: until when the change costs what it costs now
- `tweaks`: ways a build can be otherwise, by name
- `model`, `sentences`: results, and the report in a few sentences
"""

from .changes import Change, changes_between
from .model import Fate, ImpactReport, JobRedo, PartFate, PriceMove, ToBuy
from .moments import Moment, Step, cheapest, moments
from .report import impact_of, impact_of_change
from .tweaks import KINDS, Kind, Tweak, tweaked

__all__ = [
    "KINDS",
    "Change",
    "Fate",
    "ImpactReport",
    "JobRedo",
    "Kind",
    "Moment",
    "PartFate",
    "PriceMove",
    "Step",
    "ToBuy",
    "Tweak",
    "changes_between",
    "cheapest",
    "impact_of",
    "impact_of_change",
    "moments",
    "tweaked",
]
