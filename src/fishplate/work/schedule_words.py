"""A schedule in sentences."""

from __future__ import annotations

from calendar import month_name
from collections.abc import Iterable
from datetime import date, timedelta
from typing import Final

from ..build import Build
from .schedule_model import Rule, ScheduleProblem
from .schedule_result import Fault, Opener, WeekJob

LINKS_TOLD: Final = 6
_LIST_OF = {"part": "parts", "decision": "decisions", "interface": "interfaces", "workshop": "workshops"}


def day_words(day: date, *, beside: date | None = None) -> str:
    """A day in words, the year where it is another than of the day beside it.

    Examples
    --------
    >>> day_words(date(2027, 5, 9), beside=date(2027, 1, 1)), day_words(date(2027, 5, 9))
    ('9 May', '9 May 2027')
    """
    year = "" if beside is not None and beside.year == day.year else f" {day.year}"
    return f"{day.day} {month_name[day.month]}{year}"


def hours_words(hours: float) -> str:
    """Hours to the half, minutes below that.

    Examples
    --------
    >>> hours_words(3.6), hours_words(0.3)
    ('3.5 h', '20 minutes')
    """
    return f"{max(5, round(hours * 12) * 5)} minutes" if hours < 0.75 else f"{round(hours * 2) / 2:g} h"


def name_of(build: Build, kind: str, id_: str) -> str:
    """The name of a part, decision, interface, workshop or job."""
    noun = build.index[_LIST_OF.get(kind, "jobs")].get(id_)
    return id_ if noun is None else str(noun.name)


def quoted(build: Build, kind: str, id_: str) -> str:
    """A name as it stands inside a sentence; it may hold pauses of its own."""
    return f"“{name_of(build, kind, id_)}”"


def opener_words(build: Build, opener: Opener, as_of: date) -> str:
    """What had to happen first, as a clause."""
    name, day = quoted(build, opener.kind, opener.id), f"on {day_words(opener.day, beside=as_of)}"
    match opener.kind:
        case "part":
            return f"{name} comes {day}"
        case "decision":
            return f"{name} is decided {day}"
        case "interface":
            return f"{name} is settled {day}"
        case "workshop":
            return f"{name} is done with it {day}"
        case "cure":
            return f"{name} has cured {day}"
        case "season":
            return f"the season for {name} begins {day}"
        case "helper":
            return f"a second person comes for {name} {day}"
        case "place" | "bay":
            return f"there is room for {name} {day}"
        case "job":
            return f"{name} may begin {day}"
        case "after" | "hands":
            return f"{name} is done {day}"


def week_sentence(build: Build, item: WeekJob, hours_left: float) -> str:
    """What to do about a job in a week."""
    name, hours = quoted(build, "job", item.job), hours_words(item.hours)
    if item.begins and item.ends:
        return f"{name}, from beginning to end: {hours}."
    if item.begins:
        return f"Begin {name}: {hours} of {hours_words(hours_left)}."
    if item.ends:
        return f"Finish {name}: the last {hours}."
    return f"Go on with {name}: {hours}."


def faults_of(
    build: Build, problem: ScheduleProblem, rules: Iterable[Rule], openers: dict[str, Opener], as_of: date
) -> tuple[Fault, ...]:
    """What can't all be kept, a sentence and a remedy each.

    Parameters
    ----------
    openers : by task, what opens it last
    """
    rules = list(rules)
    links = [rule for rule in rules if rule.kind == "least"]
    told = [rule for rule in rules if rule.kind != "least" or len(links) <= LINKS_TOLD]
    named = [_fault(build, problem, rule, openers, as_of) for rule in told]
    if len(links) > LINKS_TOLD:
        jobs = list(dict.fromkeys(name_of(build, "job", about.split(" ")[0]) for rule in links for about in rule.about))
        what = f"{len(links)} links between {len(jobs)} jobs, among them {', '.join(jobs[:3])}"
        named.append(Fault(what, "See which of these jobs need not wait for each other."))
    if named:
        return tuple(dict.fromkeys(named))
    needed, given = sum(task.length for task in problem.tasks if task.hands), sum(problem.hours)
    if needed > given:
        short = "no hours at all" if given == 0 else "fewer hours than the work needs"
        return (Fault(f"the owner has {short} within ten years", "Enter hours a week, or fewer days off."),)
    return (Fault("not all of it fits within ten years", "Enter more hours a week, or take jobs out."),)


def _fault(build: Build, problem: ScheduleProblem, rule: Rule, openers: dict[str, Opener], as_of: date) -> Fault:
    names = [quoted(build, "job", about.split(" ")[0]) for about in rule.about]
    match rule.kind:
        case "least":
            return Fault(f"{names[1]} waits for {names[0]}{_days_between(problem, rule)}", "Take that link out.")
        case "most":
            within = next(w.most for w in problem.waits if (w.before, w.after) == rule.about and w.most is not None)
            what = f"{names[1]} must begin within {within} days of {names[0]}"
            return Fault(what, "Give it more days, or say how many hours it costs to be late.")
        case "opens":
            opener = openers[rule.about[0]]
            never = (opener.day - as_of).days >= len(problem.hours)
            if never:
                what = (
                    f"{quoted(build, opener.kind, opener.id)} does not come within ten years, and {names[0]} needs it"
                )
                return Fault(what, "See what that waits for.")
            return Fault(f"{names[0]} can't begin before {opener_words(build, opener, as_of)}", "Get it sooner.")
        case "windows":
            return Fault(_window_words(build, rule.about[0].split(" ")[0], names[0]), "Give it other months or days.")
        case "hands":
            return Fault("one person works one job at a time, in the hours there are", "Enter more hours a week.")
        case "capacity":
            return Fault(f"there is {_room(build, problem, rule.about[0])}", "Find another, or do with less.")
        case "deadline":
            last = as_of + timedelta(days=problem.deadline or 0)
            return Fault(f"all is to be done by {day_words(last)}", "Give it a later day.")


def _days_between(problem: ScheduleProblem, rule: Rule) -> str:
    least = max((wait.least for wait in problem.waits if (wait.before, wait.after) == rule.about), default=0)
    return f" and {least} more days" if least else ""


def _window_words(build: Build, job_id: str, name: str) -> str:
    job = build.find("jobs", job_id)
    months = ", ".join(month_name[month] for month in sorted(set(job.months)))
    season = f"{name} can only be worked in {months}" if months else f"{name} can only be worked"
    return season + (" when a second person comes" if job.second_person and build.owner.helpers else "")


def _room(build: Build, problem: ScheduleProblem, resource: str) -> str:
    count = problem.capacities[resource]
    if resource in ("bay", "lift"):
        return f"room for {'no job' if count == 0 else 'one job' if count == 1 else f'{count} jobs'} in the {resource}"
    return f"only one of {name_of(build, 'part', resource.removeprefix('part '))} to work with"
