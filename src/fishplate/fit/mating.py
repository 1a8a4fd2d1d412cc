"""Whether two standard designations mate, and in words what happens where they only nearly do.

The first is what goes in (stud, bolt, male fitting, shaft, plug, wheel), the second what it goes into or onto.
Judged on nominal figures: tolerances, plating and wear are seen with the parts in hand.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from ..build.designations import Connector, Designation, Pattern, Spline, Thread

Outcome = Literal["mates", "nearly", "differs"]


class Finding(NamedTuple):
    """Whether two designations mate; "nearly" is what can be mistaken for a fit."""

    outcome: Outcome
    text: str

    @property
    def mates(self) -> bool:
        """Whether they belong together."""
        return self.outcome == "mates"


def mate(first: Designation, second: Designation) -> Finding:
    """Compare what goes in with what it goes into.

    Examples
    --------
    >>> from fishplate.build.designations import parse_designation
    >>> fine, coarse = (parse_designation(text, "thread") for text in ("M10x1.25", "M10x1.5"))
    >>> mate(fine, coarse).text
    'M10x1.25 into M10x1.5: starts and binds, pitch 1.25 mm against 1.5 mm'
    """
    match first, second:
        case Thread(), Thread():
            outcome, words = _threads(first, second)
        case Pattern(), Pattern():
            outcome, words = _patterns(first, second)
        case Spline(), Spline():
            outcome, words = _splines(first, second)
        case Connector(), Connector():
            outcome, words = _connectors(first, second)
        case _:
            outcome, words = "differs", "they are not things of one kind"
    return Finding(outcome, f"{first.text} into {second.text}: {words}")


Words = tuple[Outcome, str]

# --- threads ---------------------------------------------------------------------------------------------------------

# Our own limits. A male thread this much larger than the nut's does not start; a taper starts by its small end. One
# smaller by half the pitch holds by no flank (a 60° thread is 0.54 of its pitch deep where it meets: ISO 68-1).
LARGER_MM = 0.25
LARGER_TAPER_MM = 0.8
LOOSE_SHARE = 0.12
HOLDING_SHARE = 0.54
# Two pitches run together if what they drift apart over so many turns is less than the play along the axis.
TURNS = 8.0
PLAY_SHARE = 0.1
FLANK_SLOPE = 0.577  # tan 30°


def _threads(male: Thread, female: Thread) -> Words:
    if male.left_hand != female.left_hand:
        return "differs", "does not start, one is left-hand and the other right-hand"
    larger = male.major_mm - female.major_mm
    if larger > (LARGER_TAPER_MM if male.tapered else LARGER_MM):
        return "differs", f"does not start, {_mm(larger)} too large across the thread"
    if -larger > HOLDING_SHARE * female.pitch_mm + LARGER_MM:
        return "differs", f"slides through without holding, {_mm(-larger)} too small across the thread"
    if not _run_together(male, female, max(0.0, -larger)):
        return "nearly", f"starts and binds, pitch {_mm(male.pitch_mm)} against {_mm(female.pitch_mm)}"
    if -larger > LOOSE_SHARE * female.pitch_mm:
        return "nearly", f"screws in loose and can strip, {_mm(-larger)} small across the thread"
    if male.form != female.form:
        return _other_form(male, female)
    return _same_size(male, female)


def _run_together(male: Thread, female: Thread, smaller_mm: float) -> bool:
    drift = abs(male.pitch_mm - female.pitch_mm) * min(female.major_mm / female.pitch_mm, TURNS)
    return drift <= PLAY_SHARE * female.pitch_mm + smaller_mm * FLANK_SLOPE


def _other_form(male: Thread, female: Thread) -> Words:
    angles = {"Whitworth": "55°", "Whitworth pipe": "55°"}
    first, second = angles.get(male.form, "60°"), angles.get(female.form, "60°")
    if first != second:
        return "nearly", f"screws in, yet its flanks are {first} against {second}: it holds on edges and leaks"
    return "nearly", f"screws in, yet it is {male.form} into {female.form}: it neither holds nor seals as meant"


def _same_size(male: Thread, female: Thread) -> Words:
    if male.tapered and female.takes_taper:
        return "mates", "agrees: a taper in the parallel thread made for it, sealed on the thread (ISO 7-1)"
    if female.takes_taper and not male.takes_taper:
        return (
            "nearly",
            "a parallel thread in one made for a taper: it may be too tight, and does not seal on the thread",
        )
    if male.tapered and not female.tapered:
        return "nearly", "a taper into a parallel thread: it wedges after some turns and may split the port"
    if female.tapered and not male.tapered:
        return "nearly", "a parallel into a tapered thread: it holds by a turn or two and does not seal"
    if male.seat != female.seat and male.seat and female.seat:
        return "nearly", f"the threads agree, the seats do not: {male.seat} against {female.seat}"
    seat = male.seat or female.seat
    return "mates", f"agrees; check that both seats are {seat}" if male.seat != female.seat else "agrees"


def _mm(value: float) -> str:
    return f"{round(value, 2):g} mm"


# --- patterns, splines, connectors -----------------------------------------------------------------------------------

# Drawings round circles to a tenth; more than this is another circle.
CIRCLE_MM = 0.3
NEAR_CIRCLE_MM = 3.0
DIAMETER_MM = 0.15
NEAR_DIAMETER_MM = 2.0
MODULE_SHARE = 0.002


def _patterns(wheel: Pattern, hub: Pattern) -> Words:
    if wheel.holes != hub.holes:
        return "differs", f"does not go on, {wheel.holes} holes against {hub.holes}"
    pairs = [(ours, theirs) for ours in (wheel.circle_mm, wheel.second_mm) for theirs in (hub.circle_mm, hub.second_mm)
             if ours is not None and theirs is not None]  # fmt: skip
    ours, theirs = min(pairs, key=lambda pair: abs(pair[0] - pair[1]))
    apart = abs(ours - theirs)
    if apart <= CIRCLE_MM:
        return "mates", "agrees"
    if apart <= NEAR_CIRCLE_MM:
        off = _mm(apart / 2)
        return "nearly", (
            f"goes over the studs, yet every hole is {off} out: the nuts seat on one side and the wheel works loose"
        )
    return "differs", f"does not go on, a circle of {_mm(ours)} against {_mm(theirs)}"


def _splines(shaft: Spline, hub: Spline) -> Words:
    if shaft.teeth != hub.teeth:
        return "differs", f"does not slide on, {shaft.teeth} teeth against {hub.teeth}"
    if straight := _straight_against_involute(shaft, hub):
        return straight
    if shaft.module_mm and hub.module_mm and abs(shaft.module_mm / hub.module_mm - 1) > MODULE_SHARE:
        return "differs", f"does not slide on, module {_mm(shaft.module_mm)} against {_mm(hub.module_mm)}"
    if shaft.angle_deg and hub.angle_deg and shaft.angle_deg != hub.angle_deg:
        return (
            "nearly",
            f"the same count, but flanks of {shaft.angle_deg:g}° against {hub.angle_deg:g}°: jams or rattles",
        )
    if shaft.minor_mm and hub.minor_mm and abs(shaft.minor_mm - hub.minor_mm) > DIAMETER_MM:
        return "differs", f"the same count, but {_mm(shaft.minor_mm)} against {_mm(hub.minor_mm)} at the root"
    if shaft.half and shaft.half == hub.half:
        return "differs", f"both are the {shaft.half}"
    if shaft.major_mm is None or hub.major_mm is None:
        named = "one diameter is" if shaft.major_mm != hub.major_mm else "the diameters are"
        return "nearly", f"the same count, but {named} not named: a count alone does not make a fit"
    larger = shaft.major_mm - hub.major_mm
    if abs(larger) <= DIAMETER_MM:
        return "mates", "agrees"
    if 0 < -larger <= NEAR_DIAMETER_MM:
        return "nearly", f"the same count, {_mm(-larger)} smaller: slides on loose, rattles and shears"
    return "differs", f"the same count, but {_mm(shaft.major_mm)} against {_mm(hub.major_mm)} across"


def _straight_against_involute(shaft: Spline, hub: Spline) -> Words | None:
    kinds = ["straight-sided" if each.minor_mm else "involute" if each.module_mm else "" for each in (shaft, hub)]
    if all(kinds) and kinds[0] != kinds[1]:
        return "differs", f"the same count, but {kinds[0]} against {kinds[1]}: they bear nowhere"
    return None


def _connectors(first: Connector, second: Connector) -> Words:
    if first.family != second.family:
        return _families(first, second)
    if first.ways is not None and second.ways is not None and first.ways != second.ways:
        return "nearly", f"the same family with {first.ways} ways against {second.ways}: another shell"
    if first.key and second.key and first.key != second.key:
        return "nearly", f"the same family and ways, keyed {first.key} against {second.key}: does not go home"
    if first.half and first.half == second.half:
        return "differs", f"both are the {first.half}"
    return "mates", "agrees"


def _families(first: Connector, second: Connector) -> Words:
    sizes = [float(item.family.split()[1]) for item in (first, second) if item.family.startswith("blade ")]
    if len(sizes) == 2 and sizes[0] < sizes[1]:
        return "nearly", "the blade is narrower than its receptacle: it sits loose and runs hot"
    if {first.family, second.family} == {"7-pole trailer, type N", "7-pole trailer, type S"}:
        return "nearly", "the same shell, coded otherwise: one carries lights, the other supplies"
    return "differs", f"another family, {first.family} against {second.family}"
