"""What to heed before starting a job that can hurt. Never in place of the local code or a licensed person."""

from __future__ import annotations

from collections.abc import Iterable

from ..build.cautions import hazard_lines, who_decides

WHO_DECIDES = who_decides()


def cautions_for(hazards: Iterable[str]) -> tuple[str, ...]:
    """A sentence for each hazard, and who decides; empty without hazards.

    Examples
    --------
    >>> cautions_for(["lifting"])[1]
    'Your local vehicle code and a licensed engineer or inspector decide; this is no approval.'
    """
    named = hazard_lines(hazards)
    return (*named, WHO_DECIDES) if named else ()
