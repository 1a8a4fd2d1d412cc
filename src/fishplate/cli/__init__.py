"""The command line: a thin skin. Each command is a module of this package, loaded when it is called.

Exit status: 0 done, 1 input refused with its problems listed, 2 misuse of the command line, 70 our own failure.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence

import click

COMMANDS = {
    "new": "Start a build file.",
    "start": "Bring what a kind of rebuild usually takes into a build.",
    "serve": "Open a build in the browser, on this machine or shared at home.",
    "import": "Take a parts list, a saved page or a mail into a build.",
    "enquiry": "What to ask a supplier, in words ready to copy.",
    "order": "Take an order from a supplier's confirmation.",
    "export": "Write a build to a spreadsheet or a build document.",
    "plan": "What to decide, measure, buy, collect and do next, and why.",
    "fit": "Does it go together, how sure, and what to measure.",
    "work": "When it will drive, what stalls it, what can be done tonight.",
    "schedule": "Week by week what to do, where it stalls, what moved.",
    "tonight": "What to do with an evening: the best set of jobs, and what to lay out.",
    "landed": "What goods cost at the garage door, by each way home.",
    "prices": "Buy now or wait, and at which price to stop waiting.",
    "buy": "What to order, from whom, when and by which way home.",
    "why": "Why a part is bought as it is, and what another way would cost more.",
    "stress": "How the plan holds up if things fall out otherwise, beside plain rules of buying.",
    "decide": "What to decide, in which order, by when, and what hangs on it.",
    "deadlines": "Every last day: returns, claims, decisions, orders, trips; also as a calendar.",
    "impact": "What comes loose if a part or a dimension changes.",
    "what-if": "Two plans side by side: as it is, and with a change.",
    "log": "What was changed in the build file, when and by whom.",
    "undo": "Take back the last change.",
    "redo": "Make the last undone change again.",
    "check": "Read a build whole and list every problem, with what to do.",
    "calc": "Vehicle engineering: tyres, shafts, springs, brakes, links, screws, wires, loads.",
    "schema": "The JSON Schema of the build document, for programs and editors.",
    "demo": "Write an invented build and its plan, to look around in.",
}
SECTIONS = {
    "To begin": ("new", "start", "import", "serve", "demo"),
    "On any evening": ("plan", "tonight", "schedule", "what-if", "deadlines"),
    "One question": ("fit", "decide", "work", "landed", "prices", "buy", "why", "impact", "stress", "calc"),
    "Dealing with suppliers": ("enquiry", "order"),
    "The build itself": ("log", "undo", "redo", "check", "export", "schema"),
}


class _Commands(click.Group):
    """Lists commands without importing them, so that help is quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"fishplate.cli.{cmd_name.replace('-', '_')}_command")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for title, names in SECTIONS.items():
            with formatter.section(title):
                formatter.write_dl([(name, COMMANDS[name]) for name in names], col_max=12)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="fishplate")
def cli() -> None:
    """What to decide, measure, buy, collect and do next on a vehicle build, and why.

    A build is one file. Begin with: fishplate serve van.fishplate. Every command says with --help what it takes.
    """


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with its exit status."""
    from .failures import exit_status

    try:
        cli.main(arguments, standalone_mode=False)
        status = 0
    except Exception as error:
        status = exit_status(error)
    sys.exit(status)
