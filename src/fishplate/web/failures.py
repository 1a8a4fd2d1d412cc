"""Failures of our own: details go to a log, the person sees a number."""

from __future__ import annotations

import logging
import secrets

LOG = logging.getLogger("fishplate.web")


def note_failure() -> str:
    """Note the exception being handled; returns the number of the incident."""
    incident = secrets.token_hex(4)
    LOG.exception("incident %s", incident)
    return incident
