"""What was ordered, where it is, until when it can go back, what was paid and for what, who owes what.

- `orders`: each order line by line, what has come of it, what is still on its way, what is on back-order
- `goods_in`: what came short, damaged or wrong, and by when it must be reported
- `returns`, `checks`: parts that can go back, until when, and the strongest check that keeps the right
- `money_back`: refunds, claims, cores, import and origin tax still to come back, with their last days
- `due`: every last day of these; `lasting`: warranties and shelf life; `workshops`: work sent out
- `ledger`: what was paid, refunded and is still owed, in home currency; by order, system and allowance
- `invoices`: what an invoice asks against the order; `against_list`, `savings`: what was paid against the price then
- `approval`: what an inspector will ask, the evidence there is, and until when the rest can be seen
- `owned`: do I own this already?; `lead_times`: how quoted lead times turned out
- `model`: results
"""

from .against_list import against_list, listed_price
from .approval import RequirementState, hidden_by, requirement_states, seen_at
from .checks import BestCheck, best_check
from .confirmed import fit_confirmations
from .due import Due, dues
from .goods_in import (
    ClaimDue,
    OpenClaim,
    ThreadApart,
    claims_due,
    faults_of,
    known_threads,
    open_claims,
    threads_apart,
    to_send_back,
)
from .invoices import InvoiceDifference, InvoiceState, bill_kinds, invoice_states
from .lasting import ShelfLife, Warranty, shelf_lives, warranties
from .lead_times import Delivery, LeadTimes, lead_times
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
from .money_back import MoneyBack, money_back
from .orders import order_states
from .owned import OwnedAlready, owned_already
from .returns import refund_by_terms, return_rights, terms_of
from .savings import SavingsBook, SavingsLine, savings_book, with_baselines
from .workshops import StageState, WorkshopState, stages_asked, workshop_states

__all__ = [
    "AllowanceUse",
    "BestCheck",
    "ClaimDue",
    "Delivery",
    "Due",
    "InvoiceDifference",
    "InvoiceState",
    "LeadTimes",
    "Ledger",
    "LineAgainstList",
    "MoneyBack",
    "OpenClaim",
    "OrderAccount",
    "OrderState",
    "OrderedLine",
    "OwnedAlready",
    "PaidLine",
    "RequirementState",
    "ReturnRight",
    "SavingsBook",
    "SavingsLine",
    "ShelfLife",
    "StageState",
    "SystemPaid",
    "ThreadApart",
    "ToHome",
    "Warranty",
    "WorkshopState",
    "against_list",
    "best_check",
    "bill_kinds",
    "claims_due",
    "dues",
    "faults_of",
    "fit_confirmations",
    "hidden_by",
    "invoice_states",
    "known_threads",
    "lead_times",
    "ledger",
    "listed_price",
    "money_back",
    "open_claims",
    "order_states",
    "owned_already",
    "refund_by_terms",
    "requirement_states",
    "return_rights",
    "savings_book",
    "seen_at",
    "shelf_lives",
    "stages_asked",
    "terms_of",
    "threads_apart",
    "to_send_back",
    "warranties",
    "with_baselines",
    "workshop_states",
]
