"""What sums are made of: a row for each sum, its parts side by side; one definition for the drawing and its table.

Parts are told apart by texture, not by colour, so that both themes and print share one drawing.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from typing import Final

from .charts import KEY_LINE

ROW: Final = 62
PLATE: Final = 20
LABEL_LINE: Final = 18
LONGEST_LABEL: Final = 34
MOST_LABEL_LINES: Final = 3
TEXTURES: Final = (
    ("plain", ""),
    ("rising", '<path d="M0 6L6 0" stroke="var(--accent)" stroke-width="1.5"/>'),
    ("dots", '<circle cx="3" cy="3" r="1.3" fill="var(--ink)"/>'),
    ("upright", '<path d="M2 0V6" stroke="var(--ink)" stroke-width="1.5"/>'),
    ("full", '<rect width="6" height="6" fill="var(--accent)"/>'),
    ("dark", '<rect width="6" height="6" fill="var(--ink)"/>'),
)


@dataclass(frozen=True, slots=True)
class ShareChart:
    """Sums and what each is made of.

    Parameters
    ----------
    name : what it shows, for those who hear it; unit : of all figures
    over : what the rows are; labels : of each row
    parts : name of each part, and its figure in every row, none below zero
    """

    name: str
    unit: str
    over: str
    labels: tuple[str, ...]
    parts: tuple[tuple[str, tuple[float, ...]], ...]
    digits: int = 2

    @property
    def heads(self) -> tuple[str, ...]:
        """Heads of the table's columns."""
        return (self.over, *(name for name, _ in self.parts), "In all")

    @property
    def sums(self) -> tuple[float, ...]:
        """What each row comes to."""
        return tuple(sum(values[row] for _, values in self.parts) for row in range(len(self.labels)))

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """The table: each sum with its parts."""
        figures = [values for _, values in self.parts] + [self.sums]
        return tuple(
            (label, *(f"{values[row]:,.{self.digits}f}" for values in figures)) for row, label in enumerate(self.labels)
        )


def shares_drawn(chart: ShareChart | None) -> str:
    """The chart as SVG; empty for none."""
    if chart is None or not chart.labels:
        return ""
    most = max(chart.sums) or 1.0
    inside, top = [_textures()], 0
    for row, label in enumerate(chart.labels):
        lines = _lines(label)
        inside += _row(chart, row, most, top, lines)
        top += ROW + LABEL_LINE * (len(lines) - 1)
    top += 10
    for place, (name, _) in enumerate(chart.parts):
        middle = top + KEY_LINE * place
        inside.append(f'<rect x="0" y="{middle - 8}" width="20" height="14" {_texture(place)}/>')
        inside.append(f'<text x="28" y="{middle + 4}" fill="var(--soft)">{escape(name)}</text>')
    height = top + KEY_LINE * len(chart.parts)
    opening = f'<svg class="chart" role="img" aria-label="{escape(_heard(chart))}" width="100%" height="{height}">'
    return f'{opening}<g font-family="system-ui, sans-serif" font-size="14">{"".join(inside)}</g></svg>'


def _heard(chart: ShareChart) -> str:
    least, most = chart.sums.index(min(chart.sums)), chart.sums.index(max(chart.sums))
    said = f"{chart.name}. Least: {chart.labels[least]}, {chart.sums[least]:,.{chart.digits}f}."
    return said if least == most else f"{said} Most: {chart.labels[most]}, {chart.sums[most]:,.{chart.digits}f}."


def _textures() -> str:
    ground = '<rect width="6" height="6" fill="var(--wash)"/>'
    pieces = (
        f'<pattern id="share-{name}" width="6" height="6" patternUnits="userSpaceOnUse">{ground}{mark}</pattern>'
        for name, mark in TEXTURES
    )
    return f"<defs>{''.join(pieces)}</defs>"


def _texture(place: int) -> str:
    return f'fill="url(#share-{TEXTURES[place % len(TEXTURES)][0]})" stroke="var(--accent)"'


def _lines(label: str) -> list[str]:
    """A name in lines short enough to stand beside its sum on a phone."""
    return textwrap.wrap(label, LONGEST_LABEL, max_lines=MOST_LABEL_LINES, placeholder=" …") or [""]


def _row(chart: ShareChart, row: int, most: float, top: int, lines: list[str]) -> Iterator[str]:
    """One sum: its name, what it comes to, and its parts along a plate as long as the sum is large."""
    start = 0.0
    said = f"{chart.sums[row]:,.{chart.digits}f} {chart.unit}"
    for place, line in enumerate(lines):
        yield f'<text x="0" y="{top + 16 + LABEL_LINE * place}" fill="var(--ink)">{escape(line)}</text>'
    yield f'<text x="100%" y="{top + 16}" text-anchor="end" fill="var(--soft)">{escape(said)}</text>'
    for place, (_, values) in enumerate(chart.parts):
        width = values[row] / most * 100
        if width > 0:
            plate = top + 24 + LABEL_LINE * (len(lines) - 1)
            yield f'<rect x="{start:.3f}%" y="{plate}" width="{width:.3f}%" height="{PLATE}" {_texture(place)}/>'
        start += width
