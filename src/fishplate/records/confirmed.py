"""Suppliers' written word that something fits."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from ..build import Build
from ..build.commerce import FitConfirmation


def fit_confirmations(build: Build, as_of: date) -> Mapping[str, FitConfirmation]:
    """The last written confirmation of fit of each offer that has one."""
    found = [item for enquiry in build.enquiries for item in enquiry.confirmations if item.day <= as_of]
    return {item.offer: item for item in sorted(found, key=lambda item: item.day)}
