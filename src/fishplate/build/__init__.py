"""The nouns of a build, frozen and validated; money, units, calendar. Imports nothing of ours.

- `document`: the `Build` itself, read from and written to JSON
- `parts`, `commerce`, `events`, `interfaces`, `decisions`, `jobs`, `approval`, `owner`: the nouns
- `facts`: what is so on a day, derived from events
- `graph`: what rests on what
- `money`, `units`, `expression`, `calendar`: numbers and dates
- `defaults`: what is taken where the build does not say; `words`: names in a sentence
- `problem`, `errors`, `field_faults`, `condition_faults`: faults as values, and refusals
"""

from .calendar import date_at, month_of, week_of, weekly_hours
from .document import (
    Build,
    build_from_data,
    check_build,
    document_data,
    document_schema,
    format_document,
    noun_data,
    parse_document,
)
from .errors import FishplateError, Refused
from .facts import Choice, Facts, Incoming, JobState, facts_of, offer_contents
from .money import Money, Rates, UnknownRateError
from .problem import Assumption, Problem, sorted_problems

__all__ = [
    "Assumption",
    "Build",
    "Choice",
    "Facts",
    "FishplateError",
    "Incoming",
    "JobState",
    "Money",
    "Problem",
    "Rates",
    "Refused",
    "UnknownRateError",
    "build_from_data",
    "check_build",
    "date_at",
    "document_data",
    "document_schema",
    "facts_of",
    "format_document",
    "month_of",
    "noun_data",
    "offer_contents",
    "parse_document",
    "sorted_problems",
    "week_of",
    "weekly_hours",
]
