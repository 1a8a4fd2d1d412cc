"""`fishplate schema`"""

from __future__ import annotations

import click

from .common import emit


@click.command("schema")
def command() -> None:
    """The JSON Schema of the build document, for programs and editors. The reference tells it in words."""
    from ..build import document_schema

    emit(document_schema())
