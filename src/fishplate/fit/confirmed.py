"""A supplier's written word that its part fits: said beside a verdict, which it never replaces."""

from __future__ import annotations

from datetime import date

from ..build import Build, offer_contents
from ..build.interfaces import Interface
from ..build.words import day_words


def confirmed_by(build: Build, as_of: date, interface: Interface) -> tuple[str, ...]:
    """Who confirmed in writing that a part fits at an interface, each as a sentence, latest first.

    Notes
    -----
    It changes no chance here: it says who bears a misfit, not what the dimensions are. What is ordered counts it.
    """
    said: dict[str, tuple[date, str]] = {}
    for enquiry in build.enquiries:
        for word in enquiry.confirmations:
            offer = build.find("offers", word.offer)
            parts = [part for part in offer_contents(build, offer) if part in interface.parts]
            if word.day <= as_of and parts and (offer.id not in said or said[offer.id][0] <= word.day):
                seller, name = build.find("suppliers", offer.supplier).name, build.find("parts", parts[0]).name
                back = "; it takes it back at its own cost if it does not" if word.takes_back else ""
                words = f"{seller} confirmed in writing on {day_words(word.day)} that {name} fits{back}."
                said[offer.id] = (word.day, words)
    return tuple(text for _, text in sorted(said.values(), reverse=True))
