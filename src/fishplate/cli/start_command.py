"""`fishplate start`"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import JSON_FLAG, emit, say, table, tell_about

if TYPE_CHECKING:
    from ..starters import Match, Merge, Starter

LISTS = {
    "systems": "system", "states": "state", "workshops": "workshop", "parts": "part", "stand_ins": "stand-in",
    "dimensions": "dimension", "interfaces": "interface", "conditions": "condition", "criteria": "criterion",
    "decisions": "decision", "jobs": "job", "gates": "gate", "allowances": "allowance", "releases": "release",
    "requirements": "requirement",
}  # fmt: skip


@click.command("start")
@click.argument("name", required=False)
@click.option("--into", type=click.Path(path_type=Path), help="The build file it goes into; started if there is none.")
@click.option("--apart", multiple=True, metavar="LIST:ID", help="Not the same, although alike; as jobs:first-start.")
@click.option("--same", "taken", multiple=True, metavar="LIST:ID", help="The same part, of what it asks about.")
@click.option("--dry-run", is_flag=True, help="Show what it would do, and do nothing.")
@click.option("--yes", is_flag=True, help="Do it without asking.")
@JSON_FLAG
def command(
    name: str | None,
    into: Path | None,
    apart: tuple[str, ...],
    taken: tuple[str, ...],
    dry_run: bool,
    yes: bool,
    as_json: bool,
) -> None:
    """Bring what a kind of rebuild usually takes into a build, without doubling what is there.

    Without a name it lists the starters. With --into it shows what is new and what is taken as the same, and writes it
    as one change once you say so. A second time it adds nothing. Where it is unsure whether two things are one it asks,
    and unless you name them with --same it brings its own beside yours.

    \f
    \b
    With --json:
      starter, into   its name and the build file; written, revision
      added           list, id, name, own (id in the build)
      same            list, id, name, own, own_name, how
      asked           the same keys, of what may be the same and is not taken to be
      waiting         job, new
      left_out        sentences
    """
    from ..starters import merge, starter, starters

    if name is None:
        _list(starters(), as_json=as_json)
        return
    chosen = starter(name)
    if into is None:
        _list((chosen,), as_json=as_json)
        return
    build, write = _open(into)
    found = merge(
        build,
        chosen,
        apart=[_key(each, "--apart") for each in apart],
        taken=[_key(each, "--same") for each in taken],
    )
    if not as_json:
        _show(found)
    revision = None
    if found.build == build:
        say("Nothing would change.", err=as_json)
    elif _agreed(dry_run=dry_run, yes=yes, as_json=as_json):
        revision = write(found.build, f"started from {chosen.title.lower()}")
        say(f"Done: {into} is at revision {revision}. To take it back: fishplate undo {into}.", err=as_json)
    if as_json:
        emit(_data(found, name, into, revision))


def _open(path: Path) -> tuple[Any, Any]:
    """The build, and what writes it in one change and gives the revision."""
    from ..build import Build
    from ..store import BuildFile
    from ..wiring import author, open_file

    if not path.exists():
        build = Build(name=path.stem[:400] or "My build")
        return build, lambda result, said: BuildFile.create(path, result, author=author(), message=said).revision
    opened = open_file(path)
    snapshot = opened.snapshot()
    tell_about(snapshot.build)
    return snapshot.build, lambda result, said: opened.write(
        result, revision=snapshot.revision, author=author(), message=said
    )


def _key(text: str, option: str) -> tuple[str, str]:
    list_name, colon, id_ = text.partition(":")
    if not colon or list_name not in LISTS:
        raise click.BadParameter(f'{text!r} is not "LIST:ID", such as jobs:first-start', param_hint=option)
    return list_name, id_


def _agreed(*, dry_run: bool, yes: bool, as_json: bool) -> bool:
    if dry_run or yes:
        return yes and not dry_run
    if as_json or not (sys.stdin.isatty() and sys.stdout.isatty()):
        say("Nothing is written yet. To accept it, give the command again with --yes.", err=as_json)
        return False
    return click.confirm("Write this to the build?", default=False)


def _list(found: tuple[Starter, ...], *, as_json: bool) -> None:
    if as_json:
        emit([{"name": item.name, "title": item.title, "about": item.about} for item in found])
        return
    for item in found:
        build = item.build
        hours = sum(job.hours.likely for job in build.jobs)
        say(f"{item.name}: {item.title}\n  {item.about}")
        say(
            f"  {len(build.jobs)} jobs of about {hours:.0f} hours, {len(build.decisions)} decisions, "
            f"{len(build.interfaces)} interfaces, {len(build.parts)} parts."
        )
    say("To bring one into a build: fishplate start NAME --into BUILD. Hours are common practice.")


def _show(found: Merge) -> None:
    if found.same:
        say("Taken as the same; yours stays as it is (--apart LIST:ID keeps two apart):")
        rows = [(f"{each.list_name}:{each.id}", each.name, each.own_name, each.how) for each in found.same]
        table(("What", "In the starter", "Yours", "Because"), rows)
    if found.doubts:
        say("The same part? Not taken to be, and brought beside yours, unless you say --same LIST:ID:")
        asked = [(f"{each.list_name}:{each.id}", each.name, each.own_name) for each in found.doubts]
        table(("What", "In the starter", "Yours"), asked)
    if found.added:
        say("New:")
        table(("What", "Name"), [(LISTS[each.list_name], each.name) for each in found.added])
    for job, new in found.waiting:
        say(f"{job} will also wait for: {new}.")
    for line in found.left_out:
        say(line)
    counts = Counter(each.list_name for each in found.added)
    said = [f"{count} {LISTS[name] if count == 1 else _several(name)}" for name, count in counts.items()]
    say(f"New: {', '.join(said) or 'nothing'}. The same: {len(found.same)}.")


def _several(list_name: str) -> str:
    return "criteria" if list_name == "criteria" else f"{LISTS[list_name]}s"


def _data(found: Merge, name: str, into: Path, revision: int | None) -> dict[str, Any]:
    return {
        "starter": name,
        "into": str(into),
        "written": revision is not None,
        "revision": revision,
        "added": [
            {"list": each.list_name, "id": each.id, "name": each.name, "own": each.own} for each in found.added
        ],
        "same": [_pair(each) for each in found.same],
        "asked": [_pair(each) for each in found.doubts],
        "waiting": [{"job": job, "new": new} for job, new in found.waiting],
        "left_out": list(found.left_out),
    }  # fmt: skip


def _pair(match: Match) -> dict[str, str]:
    return {
        "list": match.list_name, "id": match.id, "name": match.name, "own": match.own, "own_name": match.own_name,
        "how": match.how,
    }  # fmt: skip
