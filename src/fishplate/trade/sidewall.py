"""What is written on a tyre or a wheel, read into the figures it stands for."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..build.designations import DesignationError, Pattern, parse_designation
from ..build.errors import FishplateError
from .tables import table

INCH = 25.4
MAX_CHARACTERS = 80


class NotASize(FishplateError, ValueError):
    """Text that is not the designation of a tyre or wheel.

    Parameters
    ----------
    text : as written; what : the fault; do : what to do about it
    """

    def __init__(self, text: str, what: str, do: str) -> None:
        self.text, self.what, self.do = text, what, do
        super().__init__(text, what, do)

    def __str__(self) -> str:
        return f"{self.text!r}: {self.what}. {self.do}"


@dataclass(frozen=True, slots=True)
class TyreSize:
    """A tyre's designation, and what follows from it by arithmetic.

    Parameters
    ----------
    section_mm : width of the section on its measuring rim [mm]
    ratio : height of the sidewall to that width [-]
    rim_diameter_mm : of the bead seat, by its code [mm]
    sidewall_mm : height of the sidewall, from bead seat to tread [mm]
    diameter_mm : overall, new and inflated, unloaded [mm]
    construction : radial, diagonal or bias-belted
    use : passenger, light truck, commercial, trailer or temporary
    load_kg : on one wheel at its index, single fitment [kg]
    load_dual_kg : on one wheel of a pair, where it is named [kg]
    speed_mm_per_s : at its symbol [mm/s]
    load_index : as written
    speed_symbol : as written
    note : what was taken for granted
    """

    text: str
    section_mm: float
    ratio: float
    rim_diameter_mm: float
    sidewall_mm: float
    diameter_mm: float
    construction: str
    use: str
    load_kg: float | None = None
    load_dual_kg: float | None = None
    speed_mm_per_s: float | None = None
    load_index: int | None = None
    speed_symbol: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class WheelSize:
    """A wheel's designation.

    Parameters
    ----------
    width_mm : between the bead seats, not over the lips [mm]
    diameter_mm : of the bead seat [mm]
    contour : of the flange, such as J
    offset_mm : mounting face outside the middle of the rim, positive towards the street [mm]
    holes : in the pattern
    circle_mm : diameter of the pattern [mm]
    bore_mm : centre bore [mm]
    """

    text: str
    width_mm: float
    diameter_mm: float
    contour: str
    offset_mm: float | None = None
    holes: int | None = None
    circle_mm: float | None = None
    bore_mm: float | None = None


_BUILDS = {"R": "radial", "ZR": "radial", "-": "diagonal", "D": "diagonal", "B": "bias-belted"}
_PREFIXES = {"P": "passenger", "LT": "light truck", "ST": "trailer", "T": "temporary", "": "passenger"}
_SUFFIXES = {"C": "commercial", "CP": "commercial", "LT": "light truck", "ST": "trailer"}
_SERVICE = r"(?: ?\(?(?P<load>\d{2,3})(?:/(?P<dual>\d{2,3}))? ?(?P<speed>[A-Y])\)?)?"
_METRIC = re.compile(
    r"(?P<prefix>P|LT|ST|T)? ?(?P<width>\d{3})(?:/(?P<ratio>\d{2}))? ?(?P<build>ZR|R|D|B|-) ?(?P<rim>\d{2}(?:\.5)?)"
    r" ?(?P<suffix>CP|C|LT|ST)?(?: ?(?:XL|RF|EXTRA LOAD))?" + _SERVICE + r"(?: ?(?:XL|RF|EXTRA LOAD|M\+S|TL))*"
)
_INCH = re.compile(
    r"(?P<height>\d{2}(?:\.\d{1,2})?) ?X ?(?P<width>\d{1,2}\.\d{1,2}) ?(?P<build>R|-) ?(?P<rim>\d{2}(?:\.5)?)"
    r" ?(?P<suffix>C|LT)?" + _SERVICE + r"(?: ?(?:M\+S|TL))*"
)
_NUMERIC = re.compile(r"\d{1,2}\.\d{2} ?(?:R|-) ?\d{2}.*")
# Tyres made before the ratio was written are near this; full-profile radials of old.
FULL_PROFILE = 0.82


def read_tyre(text: str) -> TyreSize:
    """A tyre from its designation; raises NotASize."""
    plain = re.sub(r"\s+", " ", text[:MAX_CHARACTERS].replace("×", "x").replace(",", ".")).strip().upper()
    if match := _METRIC.fullmatch(plain):
        return _metric(text, match)
    if match := _INCH.fullmatch(plain):
        return _inch(text, match)
    if _NUMERIC.fullmatch(plain):
        what = "a size of this form does not say how high the tyre is"
        raise NotASize(text, what, "Measure the tyre on its rim, or take the maker's table.")
    do = "Write it as 205/65R15C 102/100T, LT265/75R16, P255/50R16, 185R14C or 31x10.50R15LT."
    raise NotASize(text[:MAX_CHARACTERS], "not the size of a tyre", do)


def _metric(text: str, match: re.Match[str]) -> TyreSize:
    section, rim = float(match["width"]), float(match["rim"]) * INCH
    ratio = float(match["ratio"]) / 100 if match["ratio"] else FULL_PROFILE
    note = "" if match["ratio"] else "No ratio is written: taken as 82 %, common practice; the maker's table wins."
    use = _SUFFIXES.get(match["suffix"] or "", _PREFIXES[match["prefix"] or ""])
    return _tyre(text, match, section, ratio, rim, use, note)


def _inch(text: str, match: re.Match[str]) -> TyreSize:
    section, rim = float(match["width"]) * INCH, float(match["rim"]) * INCH
    sidewall = (float(match["height"]) * INCH - rim) / 2
    if sidewall <= 0:
        raise NotASize(text, "the rim is as large as the tyre", "Write overall diameter x width R rim.")
    use = _SUFFIXES.get(match["suffix"] or "", "light truck")
    return _tyre(text, match, section, sidewall / section, rim, use, "Nominal figures; the maker's table wins.")


def _tyre(
    text: str, match: re.Match[str], section: float, ratio: float, rim: float, use: str, note: str
) -> TyreSize:  # fmt: skip
    sidewall = section * ratio
    index, dual, symbol = match["load"], match["dual"], match["speed"] or ""
    return TyreSize(
        text.strip(), section, ratio, rim, sidewall, rim + 2 * sidewall, _BUILDS[match["build"]], use,
        load_of(int(index), text) if index else None,
        load_of(int(dual), text) if dual else None,
        speed_of(symbol, text) if symbol else None,
        int(index) if index else None, symbol, note,
    )  # fmt: skip


def load_of(index: int, text: str = "") -> float:
    """Mass a tyre may carry at a load index [kg]; raises NotASize."""
    rows = table("tyres")["load_index"]
    first, kg = rows["first"], rows["kg"]
    if not first <= index < first + len(kg):
        raise NotASize(
            text or str(index), f"load index {index} is not in the table", f"It holds {first} to {first + len(kg) - 1}."
        )
    return float(kg[index - first])


def speed_of(symbol: str, text: str = "") -> float:
    """Speed of a symbol [mm/s]; raises NotASize."""
    rows = table("tyres")["speed_symbol"]["km_h"]
    if symbol.upper() not in rows:
        raise NotASize(text or symbol, f"speed symbol {symbol!r} is not in the table", f"It holds {', '.join(rows)}.")
    return float(rows[symbol.upper()]) * 1e6 / 3600


_CONTOUR = "JJ|JK|J|K|B|P|D"
_RIM = re.compile(
    rf"(?P<a>\d{{1,2}}(?:\.\d{{1,2}})?)(?: ?(?P<contour>{_CONTOUR}))? ?X ?(?P<b>\d{{1,2}}(?:\.\d{{1,2}})?)"
    rf"(?: ?(?P<after>{_CONTOUR}))?(?= |$|H)"
)
_OFFSET = re.compile(r"\b(?:ET|IS) ?(?P<offset>[+-]?\d{1,3}(?:\.\d)?)\b")
_BORE = re.compile(r"\b(?:CB|DIA|BORE) ?(?P<bore>\d{2,3}(?:\.\d{1,2})?)\b")
_HOLES = re.compile(r"\b\d{1,2} ?[X/] ?\d{1,3}(?:\.\d{1,2})?(?: ?IN\b|\"|\b)")


def read_wheel(text: str) -> WheelSize:
    """A wheel from its designation; raises NotASize."""
    plain = re.sub(r"\s+", " ", text[:MAX_CHARACTERS].replace("×", "x").replace(",", ".")).strip().upper()
    match = _RIM.match(plain)
    do = "Write it as 7Jx16 ET45 5x112 CB66.6."
    if match is None:
        raise NotASize(text[:MAX_CHARACTERS], "not the size of a wheel", do)
    first, second = float(match["a"]), float(match["b"])
    width, diameter = min(first, second), max(first, second)
    rest = plain[match.end() :]
    offset, bore, holes = _OFFSET.search(rest), _BORE.search(rest), _HOLES.search(rest)
    pattern = _pattern(holes[0], text) if holes else None
    return WheelSize(
        text.strip(), width * INCH, diameter * INCH, match["contour"] or match["after"] or "",
        float(offset["offset"]) if offset else None,
        pattern.holes if pattern else None,
        pattern.circle_mm if pattern else None,
        float(bore["bore"]) if bore else None,
    )  # fmt: skip


def _pattern(written: str, text: str) -> Pattern:
    try:
        found = parse_designation(written.lower(), "pattern")
    except DesignationError as error:
        raise NotASize(text, error.what, error.do) from None
    assert isinstance(found, Pattern)
    return found
