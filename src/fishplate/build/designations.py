"""Standard designations of what mates: threads, wheel patterns, splines, connectors.

A designation is read into the figures it stands for, so that two of them can be compared. Trade writing is accepted
(`M10 × 1,25`, `1/4-20`, `5/112`); what can be read two ways is refused.

Sources: ISO 261 (coarse pitches), ISO 965-1 (designation of metric threads), ASME B1.1 (unified), BS 84 (Whitworth),
ISO 228-1 and ISO 7-1 (pipe threads of Whitworth form), ASME B1.20.1 (NPT), SAE J514 (37° flare dash sizes), SAE J1926-1
(O-ring bosses), DIN 5480-1, ISO 4156-1 and ANSI B92.1 (involute splines), ISO 14 (straight-sided ones), ISO 1724,
ISO 3732, ISO 11446, ISO 8092, IEC 62196 (connectors): from memory.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal, get_args

Family = Literal["thread", "pattern", "spline", "connector"]
FAMILIES: tuple[Family, ...] = get_args(Family)
Form = Literal["metric", "unified", "Whitworth", "Whitworth pipe", "NPT"]

INCH = 25.4
MAX_CHARACTERS = 60


class DesignationError(ValueError):
    """Text that is not a designation of its family; `do` says how to write one."""

    def __init__(self, text: str, family: Family, what: str = "") -> None:
        self.text, self.family = text, family
        self.what = what or f"not a {family}"
        self.do = f"Write it as {_EXAMPLES[family]}."
        super().__init__(text, family, what)

    def __str__(self) -> str:
        return f"{self.text!r}: {self.what}. {self.do}"


@dataclass(frozen=True, slots=True)
class Thread:
    """A screw thread.

    Parameters
    ----------
    major_mm, pitch_mm : outside diameter of the male thread (at the gauge plane of a taper) and pitch [mm]
    seat : how the joint seals, where the designation says it, such as "37° flare"
    takes_taper : parallel inside, meant for a taper (Rp)
    """

    text: str
    form: Form
    major_mm: float
    pitch_mm: float
    tapered: bool = False
    left_hand: bool = False
    seat: str = ""
    takes_taper: bool = False


@dataclass(frozen=True, slots=True)
class Pattern:
    """Holes on a circle; diameter in mm, and of the second circle of a wheel drilled for two."""

    text: str
    holes: int
    circle_mm: float
    second_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Spline:
    """Teeth on a shaft.

    Parameters
    ----------
    major_mm, minor_mm, module_mm : outside and inside diameter and module, where the designation says them [mm]
    angle_deg : pressure angle of an involute flank [deg]; half : which of the two it is, where the designation says it
    """

    text: str
    teeth: int
    major_mm: float | None = None
    module_mm: float | None = None
    minor_mm: float | None = None
    angle_deg: float | None = None
    half: Literal["", "shaft", "hub"] = ""


@dataclass(frozen=True, slots=True)
class Connector:
    """An electrical connector: family, ways, key or coding, and which half it is."""

    text: str
    family: str
    ways: int | None = None
    key: str = ""
    half: Literal["", "plug", "socket"] = ""


Designation = Thread | Pattern | Spline | Connector


def parse_designation(text: str, family: Family) -> Designation:
    """A designation from its text.

    Raises
    ------
    DesignationError
        if it is none of its family, or can be read two ways

    Examples
    --------
    >>> parse_designation("M10 × 1,25", "thread").pitch_mm
    1.25
    >>> parse_designation('5x4.5"', "pattern").circle_mm
    114.3
    """
    if len(text) > MAX_CHARACTERS:
        raise DesignationError(text[:MAX_CHARACTERS], family, "longer than any designation")
    plain = re.sub(r"\s+", " ", re.sub(r"(?<=\d),(?=\d)", ".", text.replace("×", "x").replace("″", '"'))).strip()
    found = next((each for read in _READERS[family] if (each := read(plain)) is not None), None)
    if found is None:
        raise DesignationError(text, family)
    return found


# --- threads ---------------------------------------------------------------------------------------------------------

# ISO 261, coarse pitch by nominal diameter [mm].
COARSE = {
    1.0: 0.25, 1.2: 0.25, 1.4: 0.3, 1.6: 0.35, 1.8: 0.35, 2.0: 0.4, 2.2: 0.45, 2.5: 0.45, 3.0: 0.5, 3.5: 0.6, 4.0: 0.7,
    4.5: 0.75, 5.0: 0.8, 6.0: 1.0, 7.0: 1.0, 8.0: 1.25, 9.0: 1.25, 10.0: 1.5, 11.0: 1.5, 12.0: 1.75, 14.0: 2.0,
    16.0: 2.0, 18.0: 2.5, 20.0: 2.5, 22.0: 2.5, 24.0: 3.0, 27.0: 3.0, 30.0: 3.5, 33.0: 3.5, 36.0: 4.0, 39.0: 4.0,
    42.0: 4.5, 45.0: 4.5, 48.0: 5.0, 52.0: 5.0, 56.0: 5.5, 60.0: 5.5, 64.0: 6.0,
}  # fmt: skip
# ASME B1.1, threads per inch by nominal size.
UNIFIED = {
    "UNC": {"#1": 64, "#2": 56, "#3": 48, "#4": 40, "#5": 40, "#6": 32, "#8": 32, "#10": 24, "#12": 24,
            "1/4": 20, "5/16": 18, "3/8": 16, "7/16": 14,
            "1/2": 13, "9/16": 12, "5/8": 11, "3/4": 10, "7/8": 9, "1": 8, "1 1/8": 7, "1 1/4": 7, "1 3/8": 6,
            "1 1/2": 6},
    "UNF": {"#0": 80, "#1": 72, "#2": 64, "#3": 56, "#4": 48, "#5": 44, "#6": 40, "#8": 36, "#10": 32, "#12": 28,
            "1/4": 28, "5/16": 24, "3/8": 24, "7/16": 20,
            "1/2": 20, "9/16": 18, "5/8": 18, "3/4": 16, "7/8": 14, "1": 12, "1 1/8": 12, "1 1/4": 12, "1 3/8": 12,
            "1 1/2": 12},
}  # fmt: skip
# BS 84, threads per inch by nominal size; flanks of 55°.
WHITWORTH = {
    "BSW": {"1/8": 40, "3/16": 24, "1/4": 20, "5/16": 18, "3/8": 16, "7/16": 14, "1/2": 12, "9/16": 12, "5/8": 11,
            "3/4": 10, "7/8": 9, "1": 8, "1 1/8": 7, "1 1/4": 7},
    "BSF": {"3/16": 32, "1/4": 26, "5/16": 22, "3/8": 20, "7/16": 18, "1/2": 16, "9/16": 16, "5/8": 14, "3/4": 12,
            "7/8": 11, "1": 10, "1 1/8": 9, "1 1/4": 9},
}  # fmt: skip
# ISO 228-1 and ISO 7-1: major diameter [mm], threads per inch.
PIPE = {
    "1/16": (7.723, 28), "1/8": (9.728, 28), "1/4": (13.157, 19), "3/8": (16.662, 19), "1/2": (20.955, 14),
    "5/8": (22.911, 14), "3/4": (26.441, 14), "7/8": (30.201, 14), "1": (33.249, 11), "1 1/4": (41.910, 11),
    "1 1/2": (47.803, 11), "2": (59.614, 11),
}  # fmt: skip
# ASME B1.20.1: outside diameter of the pipe [in], threads per inch.
NPT = {
    "1/16": (0.3125, 27), "1/8": (0.405, 27), "1/4": (0.540, 18), "3/8": (0.675, 18), "1/2": (0.840, 14),
    "3/4": (1.050, 14), "1": (1.315, 11.5), "1 1/4": (1.660, 11.5), "1 1/2": (1.900, 11.5), "2": (2.375, 11.5),
}  # fmt: skip
# SAE J514, 37° flare, and SAE J1926-1, O-ring boss: thread by dash size.
DASH = {2: "5/16-24", 3: "3/8-24", 4: "7/16-20", 5: "1/2-20", 6: "9/16-18", 8: "3/4-16", 10: "7/8-14",
        12: "1 1/16-12", 16: "1 5/16-12", 20: "1 5/8-12"}  # fmt: skip

_LEFT = re.compile(r"[ -]*LH$", re.IGNORECASE)
_CLASS = re.compile(r"[ -]+(?:\d{1,2}[eghEGH]){1,2}(?:/(?:\d{1,2}[eghEGH]){1,2})?$|[ -]+[123][AB]$")
_METRIC = re.compile(r"M ?(\d{1,3}(?:\.\d{1,2})?)(?: ?[x*-] ?(\d?\.?\d{1,3}))?", re.IGNORECASE)
_SIZE = r"((?:#|No\.? ?)\d{1,2}|(?:\d{1,2}[ -])?\d{1,2}/\d{1,2}|\d{1,2})"
_UNIFIED = re.compile(
    _SIZE + r'(?:"| in)?(?: ?- ?(\d{1,2})(?: tpi)?)?(?: ?-? ?(UNC|UNF|UNEF|UNS|UNJF|UN))?', re.IGNORECASE
)
_PIPE = re.compile(r"(G|Rp|Rc|R|BSPP|BSPT|BSP|NPTF|NPT) ?" + _SIZE + r'"?(?: ?-? ?[AB](?![A-Z]))?', re.IGNORECASE)
_PIPE_AFTER = re.compile(_SIZE + r'"?(?: ?- ?(\d{1,2}(?:\.5)?))? ?(BSPP|BSPT|BSP|NPTF|NPT)', re.IGNORECASE)
_WHITWORTH = re.compile(rf'(BSW|BSF) ?{_SIZE}"?|{_SIZE}"?(?: ?- ?(\d{{1,2}}))? ?(BSW|BSF)', re.IGNORECASE)
_DASH = re.compile(r"(AN|JIC|ORB) ?[-#]? ?(\d{1,2})|[-#]?(\d{1,2}) ?-?(AN|JIC|ORB)", re.IGNORECASE)
_WITH_LENGTH = re.compile(r"(M ?\d{1,3}(?:\.\d{1,2})? ?[x*-] ?\d?\.?\d{1,3}) ?[x*-] ?\d{1,3}", re.IGNORECASE)
# Threads per inch from which a whole figure before them is a numbered size (8-32), not inches (1-8). An inch itself is
# cut up to 32 to the inch; the first numbered size has 64 and 72.
NUMBERED_FROM, NUMBERED_FROM_AT_ONE = 24, 48
# No vehicle has a larger bolt [in].
LARGEST_INCHES = 6


def _thread(plain: str) -> Thread | None:
    left = _LEFT.search(plain) is not None
    body = _CLASS.sub("", _LEFT.sub("", plain)).strip()
    for read in (_metric, _pipe, _pipe_after, _dash, _whitworth, _unified):
        found = read(body, plain)
        if found is not None:
            return replace(found, left_hand=left)
    return None


def _metric(body: str, plain: str) -> Thread | None:
    match = _METRIC.fullmatch(body)
    if match is None:
        if long := _WITH_LENGTH.fullmatch(body):
            raise DesignationError(plain, "thread", f"that names a length too; the thread alone is {long[1]}")
        return None
    major = float(match[1])
    if match[2] is None and major not in COARSE:
        raise DesignationError(plain, "thread", "this diameter has no usual pitch, so the pitch must be named")
    pitch = COARSE[major] if match[2] is None else float(match[2])
    if not 0.05 <= pitch <= 0.5 * major:
        raise DesignationError(plain, "thread", f"no thread of {major:g} mm has a pitch of {pitch:g} mm")
    return Thread(plain, "metric", major, pitch)


def _unified(body: str, plain: str) -> Thread | None:
    match = _UNIFIED.fullmatch(body)
    if match is None or (match[2] is None and match[3] is None):
        return None
    series = (match[3] or "").upper()
    size = _numbered(match[1], match[2])
    listed = UNIFIED.get(series.replace("UNJF", "UNF"), {}).get(size)
    per_inch = listed if match[2] is None else int(match[2])
    if per_inch is None:
        raise DesignationError(plain, "thread", f"{series} has no thread of that size, so threads per inch are needed")
    if listed is not None and listed != per_inch:
        raise DesignationError(plain, "thread", f"{size} {series} has {listed} threads per inch, not {per_inch}")
    return _inch_thread(plain, size, per_inch)


def _numbered(written: str, per_inch: str | None) -> str:
    """A size as the tables list it: `10` of `10-32` and `No. 10` are the numbered size `#10`."""
    size = re.sub(r"^(?:#|No\.? ?)", "#", written.replace("-", " "), flags=re.IGNORECASE)
    if not size.isdigit():
        return size
    number = int(size)
    if per_inch is None:  # series of inches end at four
        return f"#{number}" if 5 <= number <= 12 else size
    fine = int(per_inch) >= (NUMBERED_FROM_AT_ONE if number == 1 else NUMBERED_FROM)
    return f"#{number}" if number <= 12 and fine else size


def _inch_thread(plain: str, size: str, per_inch: int) -> Thread:
    inches = 0.060 + 0.013 * int(size[1:]) if size.startswith("#") else _inches(size, plain)
    if not 0.5 / per_inch <= inches <= LARGEST_INCHES or per_inch < 3:
        raise DesignationError(plain, "thread", f"no thread of that size has {per_inch} threads per inch")
    return Thread(plain, "unified", inches * INCH, INCH / per_inch)


def _inches(size: str, plain: str, family: Family = "thread") -> float:
    try:
        return float(sum(Fraction(each) for each in size.replace("-", " ").split()))
    except ZeroDivisionError:
        raise DesignationError(plain, family, "a fraction divides by zero") from None


def _pipe(body: str, plain: str) -> Thread | None:
    match = _PIPE.fullmatch(body)
    return None if match is None else _pipe_thread(match[1], match[2], None, plain)


def _pipe_after(body: str, plain: str) -> Thread | None:
    match = _PIPE_AFTER.fullmatch(body)
    return None if match is None else _pipe_thread(match[3], match[1], match[2], plain)


def _pipe_thread(kind: str, size: str, per_inch: str | None, plain: str) -> Thread:
    kind, size = kind.upper(), size.replace("-", " ")
    if kind == "BSP":
        raise DesignationError(plain, "thread", "BSP alone does not say parallel (G, BSPP) or tapered (R, BSPT)")
    american = kind.startswith("NPT")
    sizes = NPT if american else PIPE
    if size not in sizes:
        raise DesignationError(plain, "thread", "there is no such pipe size")
    major, listed = sizes[size]
    if per_inch is not None and float(per_inch) != listed:
        raise DesignationError(plain, "thread", f"that size has {listed:g} threads per inch, not {per_inch}")
    if american:
        return Thread(plain, "NPT", major * INCH, INCH / listed, tapered=True)
    tapered = kind in {"R", "RC", "BSPT"}
    return Thread(plain, "Whitworth pipe", major, INCH / listed, tapered=tapered, takes_taper=kind == "RP")


def _whitworth(body: str, plain: str) -> Thread | None:
    match = _WHITWORTH.fullmatch(body)
    if match is None:
        return None
    series, size = (match[1] or match[5]).upper(), (match[2] or match[3]).replace("-", " ")
    listed = WHITWORTH[series].get(size)
    if listed is None:
        raise DesignationError(plain, "thread", f"{series} has no such size")
    if match[4] is not None and int(match[4]) != listed:
        raise DesignationError(plain, "thread", f"{size} {series} has {listed} threads per inch, not {match[4]}")
    return Thread(plain, "Whitworth", _inches(size, plain) * INCH, INCH / listed)


def _dash(body: str, plain: str) -> Thread | None:
    match = _DASH.fullmatch(body)
    if match is None:
        return None
    dash, kind = int(match[2] or match[3]), (match[1] or match[4]).upper()
    if dash not in DASH:
        raise DesignationError(plain, "thread", "there is no such dash size")
    size, per_inch = DASH[dash].split("-")
    found = _inch_thread(plain, size, int(per_inch))
    return Thread(
        plain, found.form, found.major_mm, found.pitch_mm, seat="O-ring boss" if kind == "ORB" else "37° flare"
    )


# --- patterns and splines --------------------------------------------------------------------------------------------

_LENGTH = r'((?:\d{1,2}[ -])?\d{1,2}/\d{1,2}|\d{1,3}(?:\.\d{1,3})?) ?(mm|in|")?'
_PATTERN = re.compile(rf"(\d{{1,2}}) ?(?:[x*/-]|on|lug) ?{_LENGTH}", re.IGNORECASE)
_TWO_CIRCLES = re.compile(
    r"(\d{1,2}) ?[x*-] ?(\d{2,3}(?:\.\d{1,2})?) ?/ ?(?:\1 ?[x*-] ?)?(\d{2,3}(?:\.\d{1,2})?)", re.IGNORECASE
)
_TEETH = r"(?: ?x ?| ?- ?| ?-?splines? ?,? ?| ?-?teeth ?,? ?| ?-?tooth ?,? ?| ?T ?,? ?)"
_SPLINE = re.compile(rf"(\d{{1,3}}){_TEETH}(?:{_LENGTH})?", re.IGNORECASE)
_ANGLE = r"(?: ?[x,]? ?(30|37\.5|45) ?(?:°|deg)?)?"
_ANSI = re.compile(
    rf"(?:ANSI )?(?:B92\.1[AB]? )?(\d{{1,3}}){_TEETH}(\d{{1,3}}(?:\.5)?)/(\d{{1,3}}) ?(?:pitch|DP|P)?{_ANGLE}",
    re.IGNORECASE,
)
_METRIC_MODULE = re.compile(
    r"(?:(EXT|INT) ?)?(\d{1,3}) ?z ?x ?(\d{1,2}(?:\.\d{1,2})?) ?m(?: ?x ?(30|37\.5|45) ?[PR]?)?(?: ?x ?\w{2,4})?",
    re.IGNORECASE,
)
_STRAIGHT = re.compile(r"(?:ISO 14 ?-? ?)?(\d{1,2}) ?x ?(\d{2,3}) ?x ?(\d{2,3})", re.IGNORECASE)
_SHAFT = re.compile(r'((?:\d{1,2}[ -])?\d{1,2}/\d{1,2}) ?(?:in|")? ?[-x] ?(\d{1,3})', re.IGNORECASE)
_DIN_5480 = re.compile(
    r"(?:DIN 5480 ?-? ?)?([WN]) ?(\d{1,3}(?:\.\d)?) ?x ?(\d{1,2}(?:\.\d{1,2})?) ?x ?"
    r"(?:30 ?x ?)?(\d{1,3})(?: ?x ?\w{2,4})?",
    re.IGNORECASE,
)
# An involute shaft's outside diameter in modules beyond its teeth, by pressure angle: ANSI B92.1 and B92.2M.
OUTSIDE = {"30": 1.0, "37.5": 0.9, "45": 0.8}
# What a rule divides an inch into.
RULED = (2, 4, 8, 16, 32, 64)
# A circle below this is in inches: nobody drills wheels on one of so few millimetres.
SMALLEST_CIRCLE_MM = 40


def _two_patterns(plain: str) -> Pattern | None:
    """A wheel drilled twice: one count, two circles."""
    match = _TWO_CIRCLES.fullmatch(plain)
    if match is None:
        return None
    first, second = (_pattern(f"{match[1]}x{circle}") for circle in (match[2], match[3]))
    assert first is not None
    assert second is not None
    return Pattern(plain, first.holes, first.circle_mm, second.circle_mm)


def _pattern(plain: str) -> Pattern | None:
    match = _PATTERN.fullmatch(plain)
    if match is None:
        return None
    holes, unit = int(match[1]), (match[3] or "").lower()
    circle = _inches(match[2], plain, "pattern") if "/" in match[2] else float(match[2])
    inches = unit in {"in", '"'} or (not unit and circle < SMALLEST_CIRCLE_MM)
    circle_mm = circle * INCH if inches else circle
    if not 3 <= holes <= 24 or not SMALLEST_CIRCLE_MM <= circle_mm <= 999:
        raise DesignationError(plain, "pattern", "no pattern has so many holes on such a circle")
    return Pattern(plain, holes, round(circle_mm, 4))


def _splined_shaft(plain: str) -> Spline | None:
    """Steering shafts are written the other way round: diameter in inches, then the count."""
    match = _SHAFT.fullmatch(plain)
    if match is None or int(match[2]) < 6:
        return None
    return Spline(plain, int(match[2]), _diameter(match[1], "in", plain))


def _spline(plain: str) -> Spline | None:
    match = _SPLINE.fullmatch(plain)
    if match is None:
        return None
    teeth = int(match[1])
    if teeth < 3:
        raise DesignationError(plain, "spline", f"nothing is splined with {teeth} teeth")
    return Spline(plain, teeth, None if match[2] is None else _diameter(match[2], (match[3] or "").lower(), plain))


def _diameter(text: str, unit: str, plain: str) -> float:
    value = _inches(text, plain, "spline") if "/" in text else float(text)
    if "/" in text and int(text.rpartition("/")[2]) not in RULED:
        raise DesignationError(plain, "spline", f"{text} is neither inches nor a pitch with twice itself, as 24/48")
    # whole and decimal figures up to 8 can only be inches, as a shaft of so few millimetres is not splined
    inches = unit in {"in", '"'} or (not unit and ("/" in text or value < 8))
    return value * INCH if inches else value


def _din_5480(plain: str) -> Spline | None:
    match = _DIN_5480.fullmatch(plain)
    if match is None:
        return None
    half: Literal["shaft", "hub"] = "shaft" if match[1].upper() == "W" else "hub"
    return Spline(plain, int(match[4]), float(match[2]), float(match[3]), angle_deg=30.0, half=half)


def _ansi(plain: str) -> Spline | None:
    """Teeth and a pitch per inch of pitch circle, written with twice itself: no inches are written so."""
    match = _ANSI.fullmatch(plain)
    if match is None or float(match[3]) != 2 * float(match[2]) or float(match[2]) < 2.5:
        return None
    return _involute(plain, int(match[1]), INCH / float(match[2]), match[4])


def _metric_module(plain: str) -> Spline | None:
    match = _METRIC_MODULE.fullmatch(plain)
    if match is None or not 0.25 <= float(match[3]) <= 10:
        return None
    half: dict[str | None, Literal["", "shaft", "hub"]] = {"EXT": "shaft", "INT": "hub"}
    return _involute(plain, int(match[2]), float(match[3]), match[4], half.get((match[1] or "").upper(), ""))


def _involute(
    plain: str, teeth: int, module_mm: float, angle: str | None, half: Literal["", "shaft", "hub"] = ""
) -> Spline:  # fmt: skip
    """A side-fit involute spline; its outside diameter is that of the shaft: module times teeth and a bit."""
    if teeth < 6:
        raise DesignationError(plain, "spline", f"no involute spline has {teeth} teeth")
    beyond = OUTSIDE[angle or "30"]
    return Spline(plain, teeth, module_mm * (teeth + beyond), module_mm, angle_deg=float(angle or 30), half=half)


def _straight_sided(plain: str) -> Spline | None:
    """Number of splines, inside and outside diameter."""
    match = _STRAIGHT.fullmatch(plain)
    if match is None or not 4 <= int(match[1]) <= 20 or not int(match[2]) < int(match[3]) <= 1.4 * int(match[2]):
        return None
    return Spline(plain, int(match[1]), float(match[3]), minor_mm=float(match[2]))


# --- connectors ------------------------------------------------------------------------------------------------------

# Families that a standard names: what is written -> family, ways.
STANDARD_CONNECTORS = {
    "ISO 1724": ("7-pole trailer, type N", 7), "ISO 3732": ("7-pole trailer, type S", 7),
    "ISO 11446": ("13-pole trailer", 13), "ISO 1185": ("7-pole trailer, 24 V, type N", 7),
    "ISO 4165": ("12 V double-pole", 2), "SAE J1962": ("diagnostic", 16), "ISO 15031-3": ("diagnostic", 16),
    "IEC 62196 TYPE 1": ("vehicle inlet type 1", 5), "IEC 62196 TYPE 2": ("vehicle inlet type 2", 7),
    "IEC 60309 16 A": ("blue 16 A mains", 3),
}  # fmt: skip
_WAYS = re.compile(r"[ ,-]*(\d{1,3})[ -]?(?:way|pole|pin|pos)s?\b", re.IGNORECASE)
_KEY = re.compile(r"[ ,-]*\b(?:key|keyed|coding|code) ([A-Z0-9]{1,3})\b", re.IGNORECASE)
_HALF = re.compile(r"[ ,-]*\b(plug|socket|male|female|tab|receptacle|inlet)\b", re.IGNORECASE)
_HALVES: dict[str, Literal["plug", "socket"]] = {
    "plug": "plug", "male": "plug", "tab": "plug", "socket": "socket", "female": "socket", "receptacle": "socket",
    "inlet": "socket",
}  # fmt: skip
_BLADE = re.compile(r"(?:ISO 8092 )?(\d{1,2}(?:\.\d)?) ?mm blade|blade (\d{1,2}(?:\.\d)?) ?mm", re.IGNORECASE)


def _connector(plain: str) -> Connector | None:
    half = _HALF.search(plain)
    rest = _HALF.sub("", plain, count=1) if half else plain
    key = _KEY.search(rest)
    rest = _KEY.sub("", rest, count=1) if key else rest
    ways = _WAYS.search(rest)
    rest = re.sub(r"[ ,-]+$", "", _WAYS.sub("", rest, count=1) if ways else rest).strip()
    side: Literal["", "plug", "socket"] = _HALVES[half[1].lower()] if half else ""
    coding = key[1].upper() if key else ""
    if standard := STANDARD_CONNECTORS.get(rest.upper()):
        return Connector(plain, standard[0], standard[1], coding, side)
    if blade := _BLADE.fullmatch(rest):
        return Connector(plain, f"blade {float(blade[1] or blade[2]):g} mm", int(ways[1]) if ways else 1, coding, side)
    if ways is None or not re.search(r"[^\W\d_]", rest):
        return None
    return Connector(plain, rest.lower(), int(ways[1]), coding, side)


_READERS: dict[Family, tuple[Callable[[str], Designation | None], ...]] = {
    "thread": (_thread,),
    "pattern": (_two_patterns, _pattern),
    "spline": (_ansi, _metric_module, _straight_sided, _splined_shaft, _din_5480, _spline),
    "connector": (_connector,),
}
_EXAMPLES: dict[Family, str] = {
    "thread": "M10x1.25, 1/4-20 UNC, 10-32, G 1/4, R 1/4, 1/4 NPT or AN-6",
    "pattern": '5x112 or 5x4.5"',
    "spline": "26x1 1/8 in, 3/4-36, 23x26 mm, 26 splines, 26T 24/48, 24z x 1.25m x 30R, 6x23x28 or W30x2x14",
    "connector": 'a standard such as ISO 11446, a family with its ways such as "sealed 1.5 mm, 4-way", or 6.3 mm blade',
}
