"""From an exception to words on stderr and an exit status."""

from __future__ import annotations

import logging
import secrets
import tempfile
from pathlib import Path

import click

DONE, REFUSED, MISUSE, OWN_FAILURE = 0, 1, 2, 70


def exit_status(error: Exception) -> int:
    """Say what went wrong and return the exit status for it."""
    from ..build.errors import FishplateError

    match error:
        case click.exceptions.Exit():
            return error.exit_code
        case click.Abort():
            click.echo("Stopped; nothing was changed.", err=True)
            return REFUSED
        case click.ClickException():
            error.show()
            return MISUSE
        case FishplateError():
            click.echo(str(error), err=True)
            return REFUSED
        case BrokenPipeError():
            return DONE
        case _:
            return _own_failure(error)


def _own_failure(error: Exception) -> int:
    """Keep the details in a log file; show the person only its number."""
    incident = secrets.token_hex(4)
    path = Path(tempfile.gettempdir()) / f"fishplate-{incident}.log"
    handler = logging.FileHandler(path, encoding="utf-8")
    logger = logging.getLogger("fishplate")
    logger.addHandler(handler)
    logger.error("incident %s", incident, exc_info=error)
    logger.removeHandler(handler)
    handler.close()
    click.echo(f"Fishplate failed (incident {incident}); your build is unchanged. Details are in {path}.", err=True)
    return OWN_FAILURE
