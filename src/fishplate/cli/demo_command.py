"""`fishplate demo`"""

from __future__ import annotations

from pathlib import Path

import click

from ..build import Problem, Refused
from .common import progress_line


@click.command("demo")
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Seed of the random draws.")
@click.option("--force", is_flag=True, help="Replace demo.fishplate and demo.html if they are there.")
def command(seed: int, force: bool) -> None:
    """Write the demonstration build to demo.fishplate here, print its plan and write it to demo.html."""
    from ..plan import plan
    from ..starters import demo_as_of, load_demo
    from ..store import BuildFile
    from ..store.plans import dump_plan, keep_plan
    from ..wiring import author
    from .planning import show_plan, situation_of, write_page
    from .serve_command import address

    file, page = Path("demo.fishplate"), Path("demo.html")
    if force:
        file.unlink(missing_ok=True)
    elif file.exists():
        raise Refused([Problem(str(file), "exists", "the file is there already", "", "Move it away, or use --force.")])
    build = load_demo()
    opened = BuildFile.create(file, build, author=author(), message="demonstration build")
    result = plan(situation_of(build, demo_as_of(), seed), revision=1, progress=progress_line())
    keep_plan(opened, dump_plan(result))
    show_plan(result, build)
    write_page(result, build, page)
    click.echo(f"\nWritten: {file} (the build) and {page} (this plan as a page).")
    day = demo_as_of().isoformat()
    click.echo(f"Plan it again with: fishplate plan {file} --as-of {day}")
    click.echo(f"In the browser: fishplate serve {file} --as-of {day}, then {address()}")
