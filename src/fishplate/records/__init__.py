"""What was ordered, where it is, until when it can go back, what was paid and for what.

- `orders`: each order line by line, what has come of it, what is still on its way
- `returns`: parts that can go back, until when, and on what terms
- `ledger`: what was paid, refunded and is still owed, in home currency; by order, system and allowance
- `against_list`: what was paid against the price the offer had then
- `model`: the results
"""

from .against_list import against_list
from .ledger import ledger
from .model import (
    AllowanceUse,
    Ledger,
    LineAgainstList,
    OrderAccount,
    OrderedLine,
    OrderState,
    PaidLine,
    ReturnRight,
    SystemPaid,
    ToHome,
)
from .orders import order_states
from .returns import return_rights, terms_of

__all__ = [
    "AllowanceUse",
    "Ledger",
    "LineAgainstList",
    "OrderAccount",
    "OrderState",
    "OrderedLine",
    "PaidLine",
    "ReturnRight",
    "SystemPaid",
    "ToHome",
    "against_list",
    "ledger",
    "order_states",
    "return_rights",
    "terms_of",
]
