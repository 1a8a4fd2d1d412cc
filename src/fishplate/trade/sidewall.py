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
    use : passenger, light truck, commercial, truck, trailer, motorcycle, temporary, or not said
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


_BUILDS = {"R": "radial", "RF": "radial", "-": "diagonal", "D": "diagonal", "B": "bias-belted"}
_PREFIXES = {"P": "passenger", "HL": "passenger", "LT": "light truck", "ST": "trailer", "T": "temporary"}
_SUFFIXES = {"C": "commercial", "CP": "commercial", "LT": "light truck", "ST": "trailer"}
_RIM = r"(?P<rim>\d{3}|\d{1,2}(?:\.5)?)"
_METRIC = re.compile(
    r"(?P<prefix>P|LT|ST|T|HL)? ?(?P<width>\d{2,3})(?:(?P<bar>[/ -])(?P<ratio>\d{2,3}))? ?(?P<dash>[/-]?) ?"
    r"(?P<speed>Z|[QSTHVW] ?(?=R))?(?P<build>RF|R|D|B)? ?[/-]? ?" + _RIM + r"(?P<rest>(?![\d.]).*)"
)
_FLOTATION = re.compile(
    r"(?P<height>\d{2}(?:\.\d{1,2})?) ?X ?(?P<width>\d{1,2}(?:\.\d{1,2})?) ?(?P<speed>Z)?(?P<build>RF|R|D|B|-) ?"
    + _RIM
    + r"(?P<rest>(?![\d.]).*)"
)
_NUMERIC = re.compile(r"(?P<width>\d{1,2}(?:\.\d{1,2})?)(?:/\d\.\d{2})? ?(?:[QSTHVW]? ?R|-) ?" + _RIM + r"(?![\d.]).*")
_LETTERED = re.compile(r"(?:[A-N]R?|M[A-Z])\d{2} ?[RB-]? ?\d{2}.*")
# What may stand behind the size: the service, how it is built, how much it bears, how it looks.
_SERVICE = re.compile(r"\(?(?P<load>\d{2,3})(?:/(?P<dual>\d{2,3}))? ?(?P<speed>A[1-8]|[A-Z])(?![A-Z])\)?")
_RANGE = re.compile(r"/?(?:LR|LOAD RANGE) ?(?P<range>[A-N])\b|/(?P<after>[A-N])\b|(?P<alone>[B-HJ-N])\b|\d{1,2} ?PR\b")
_PLAIN = re.compile(
    r"(?:EXTRA LOAD|XL|REINF(?:ORCED)?|RFT?|ROF|SSR|RSC|SL|M ?[+&]? ?S|3PMSF|TL|TT|OWL|RWL|BSW|WW|NHS|TRX?|TD)\b"
)
_CYCLE = re.compile(r"M/?C\b")
# Tyres made before the ratio was written are near this; full-profile radials of old.
FULL_PROFILE = 0.82
# Sidewall to written width of sizes in inches alone, from memory: tubeless truck rims, and all others
_INCH_RATIOS = {True: (0.82, 0.90), False: (0.93, 1.08)}
_HALF_CODES = {14.5, 16.5, 17.5, 19.5, 22.5, 24.5}
_HEAVY_FROM = 122  # load index from which UN Regulation No. 54 holds


def read_tyre(text: str) -> TyreSize:
    """A tyre from its designation; raises NotASize."""
    plain = _plain(text)
    if match := _FLOTATION.fullmatch(plain):
        return _flotation(text, match)
    if (match := _METRIC.fullmatch(plain)) and _is_metric(match):
        return _metric(text, match)
    if match := _NUMERIC.fullmatch(plain):
        raise _without_height(text, float(match["width"]), float(match["rim"]))
    if _LETTERED.fullmatch(plain):
        what = "its first letter stands for a load, not for a width"
        raise NotASize(text, what, "Measure the tyre on its rim, or take the maker's table.")
    do = "Write it as 205/65R15C 102/100T, LT265/75R16, P255/50R16, 185R14C, 185/70 HR 14 or 31x10.50R15LT."
    raise NotASize(text[:MAX_CHARACTERS], "not the size of a tyre", do)


def _plain(text: str) -> str:
    held = text[:MAX_CHARACTERS].replace("×", "x").replace("½", " 1/2").replace("\\", "/").replace(",", ".")
    return re.sub(r" ?/ ?", "/", re.sub(r"\s+", " ", held)).strip().upper()


def _is_metric(match: re.Match[str]) -> bool:
    """Whether it says its ratio, or its build and a width of three figures: two alone are inches."""
    return bool(match["ratio"]) or (len(match["width"]) == 3 and bool(match["build"] or match["dash"] == "-"))


def _without_height(text: str, width: float, rim: float) -> NotASize:
    low, high = _INCH_RATIOS[rim != int(rim)]
    least, most = ((rim + 2 * ratio * width) * INCH for ratio in (low, high))
    what = "a size of this form does not say how high the tyre is"
    about = f"Such tyres are as a rule {least:.0f} to {most:.0f} mm high (from memory). "
    return NotASize(text, what, f"{about}Measure the tyre on its rim, or take the maker's table.")


def _metric(text: str, match: re.Match[str]) -> TyreSize:
    section, notes = float(match["width"]), list[str]()
    if not match["ratio"]:
        if section > 260:
            inches = f"{section / 100:.2f}R{match['rim']}"
            raise NotASize(text, f"no tyre is {section:g} mm wide and says no ratio", f"Is it {inches}, in inches?")
        notes.append("No ratio is written: taken as 82 %, common practice; the maker's table wins.")
    ratio = float(match["ratio"]) / 100 if match["ratio"] else FULL_PROFILE
    if not (60 <= section <= 500 and 0.2 <= ratio <= 1.1):
        raise NotASize(text, f"no tyre is {section:g} mm wide and {ratio:.0%} of it high", "Read it once more.")
    dash = match["dash"] if match["bar"] in ("/", None) else ""  # 205-65-15 parts its figures, 155-13 is diagonal
    build = _BUILDS.get(match["build"] or dash, "")
    if not build:
        notes.append("No letter for its build is written: taken as radial.")
    use = _PREFIXES.get(match["prefix"] or "", "")
    return _tyre(text, match, section, ratio, build or "radial", use, notes)


def _flotation(text: str, match: re.Match[str]) -> TyreSize:
    section, rim = float(match["width"]) * INCH, _rim_mm(text, match["rim"])
    sidewall = (float(match["height"]) * INCH - rim) / 2
    if sidewall <= 0 or section <= 0:
        raise NotASize(text, "the rim is as large as the tyre", "Write overall diameter x width R rim.")
    use = "light truck" if float(match["rim"]) >= 14 else "not said"
    notes = ["Nominal figures; the maker's table wins."]
    return _tyre(text, match, section, sidewall / section, _BUILDS[match["build"]], use, notes)


def _rim_mm(text: str, code: str) -> float:
    """Bead seat by its code in inches, or in millimetres from 300 on."""
    value = float(code)
    usual = 300 <= value <= 500 or (4 <= value <= 26 and (value == int(value) or value in _HALF_CODES))
    if not usual:
        raise NotASize(text, f"no rim has the code {code}", "Codes are inches, 4 to 26, or millimetres such as 390.")
    return value if value >= 300 else value * INCH


def _tyre(
    text: str, match: re.Match[str], section: float, ratio: float, build: str, use: str, notes: list[str]
) -> TyreSize:  # fmt: skip
    rim, service = _rim_mm(text, match["rim"]), _read_service(text, match["rest"], match["speed"])
    sidewall = section * ratio
    return TyreSize(
        text.strip(), section, ratio, rim, sidewall, rim + 2 * sidewall, build,
        service.use or use or _use_of(match["rim"], section, sidewall, service.index),
        load_of(service.index, text) if service.index is not None else None,
        load_of(service.dual, text) if service.dual is not None else None,
        speed_of(service.symbol, text) if service.symbol else None,
        service.index, service.symbol, " ".join([*notes, *service.notes]),
    )  # fmt: skip


def _use_of(rim: str, section_mm: float, sidewall_mm: float, index: int | None) -> str:
    """What a size without letters is for; tall ones are as often a truck's, narrow ones a motorcycle's."""
    if rim.endswith(".5") or (index or 0) >= _HEAVY_FROM:
        return "truck"
    usual = section_mm > 130 and sidewall_mm < 230 and float(rim) >= 10
    return "passenger" if usual else "not said"


@dataclass(frozen=True, slots=True)
class _Service:
    """What stands behind a tyre's size."""

    use: str
    index: int | None
    dual: int | None
    symbol: str
    notes: tuple[str, ...]


def _read_service(text: str, rest: str, within_size: str | None) -> _Service:
    use, notes, found = "", list[str](), list[re.Match[str]]()
    suffix = re.match(r" ?(CP|C|LT|ST)\b", rest)
    if suffix:
        use, rest = _SUFFIXES[suffix[1]], rest[suffix.end() :]
    while rest := rest.strip():
        if match := _SERVICE.match(rest):
            found.append(match)
        elif match := _CYCLE.match(rest):
            use = "motorcycle"
        elif match := _PLAIN.match(rest):
            pass
        elif match := _RANGE.match(rest):
            letter = match["range"] or match["after"] or match["alone"]
            said = f"Load range {letter}" if letter else f"Ply rating {match[0]}"
            notes.append(f"{said}: the load and pressure it stands for are in the maker's table.")
        else:
            raise NotASize(text, f"“{rest}” is not known behind a size", "Leave out what is not size, load or speed.")
        rest = rest[match.end() :]
    if len(found) > 1:
        notes.append("A second service description is written: the first is taken.")
    first = found[0] if found else None
    symbol, remark = _symbol(first, within_size)
    if remark:
        notes.append(remark)
    load, dual = (first["load"], first["dual"]) if first else (None, None)
    return _Service(use, int(load) if load else None, int(dual) if dual else None, symbol, tuple(notes))


def _symbol(service: re.Match[str] | None, within_size: str | None) -> tuple[str, str]:
    """The speed symbol, and what is to be said of it."""
    old = (within_size or "").strip()
    if service:
        beyond = "The brackets mean faster than its symbol: the maker says how fast."
        faster = service[0].startswith("(") and service["speed"] in "WY" and old == "Z"
        return service["speed"], beyond if faster else ""
    if old == "Z":
        return "", "ZR alone means faster than 240 km/h: the maker says how fast."
    if old == "V":
        return "H", "VR is an old mark for faster than 210 km/h: taken as 210; the maker says how fast."
    return old, ""


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


_CONTOUR = "JJ|JK|J|K|B|P|D|E|F|G|H"
_WIDTH = r"\d{1,2}(?: \d/\d|\.\d{1,2})?"
_RIM_SIZE = re.compile(
    rf"(?P<a>{_WIDTH})(?: ?(?P<contour>{_CONTOUR}))? ?(?P<x>X)? ?(?P<b>\d{{1,2}}(?: \d/\d|\.\d{{1,2}})?)"
    rf"(?: ?(?P<after>{_CONTOUR})(?!\d))?(?: ?(?:EH2\+?|H2|H1|H|FH2?|CH|SDC|DC))?(?= |$)"
)
_MILLIMETRE_RIM = re.compile(r"(?P<a>\d{3}) ?TR ?(?P<b>\d{3})(?: ?FH)?(?= |$)")
_DETAILS = {
    "offset": re.compile(r"(?:ET|E\.T\.|IS|OFFSET) ?(?P<offset>[+-]?\d{1,3}(?:\.\d)?)(?: ?MM)?(?= |$)"),
    "offset alone": re.compile(r"(?P<offset>[+-]\d{1,3}(?:\.\d)?)(?: ?MM)?(?= |$)"),
    "bore": re.compile(r"(?:CB|DIA|BORE|NB|ML) ?(?P<bore>\d{2,3}(?:\.\d{1,2})?)(?: ?MM)?(?= |$)"),
    "pattern": re.compile(r"(?:PCD|LK|LZ)? ?(?P<pattern>\d{1,2} ?[X/] ?\d{1,3}(?:\.\d{1,2})?(?: ?IN\b|\"|\b))(?= |$)"),
    "bore alone": re.compile(r"(?P<bore>\d{2,3}(?:\.\d{1,2})?)(?: ?MM)?(?= |$)"),
}
_HOW_TO_WRITE = "Write it as 7Jx16 ET45 5x112 CB66.6."


def read_wheel(text: str) -> WheelSize:
    """A wheel from its designation; raises NotASize."""
    plain = _plain(text)
    in_mm, inches = _MILLIMETRE_RIM.match(plain), _RIM_SIZE.match(plain)
    match = in_mm or inches
    if match is None or not (in_mm or match["x"] or match["contour"]):
        raise NotASize(text[:MAX_CHARACTERS], "not the size of a wheel", _HOW_TO_WRITE)
    first, second = (_inches(text, match[name]) for name in ("a", "b"))
    width, diameter = min(first, second), max(first, second)
    contour = "TR" if in_mm else match["contour"] or match["after"] or ""
    details = _wheel_details(text, plain[match.end() :])
    pattern = _pattern(details["pattern"], text) if "pattern" in details else None
    scale = 1.0 if in_mm else INCH
    if not (1.5 <= width * scale / INCH <= 22 and 4 <= diameter * scale / INCH <= 30):
        raise NotASize(text[:MAX_CHARACTERS], f"no wheel is {width:g} wide and {diameter:g} across", _HOW_TO_WRITE)
    return WheelSize(
        text.strip(), width * scale, diameter * scale, contour,
        float(details["offset"]) if "offset" in details else None,
        pattern.holes if pattern else None,
        pattern.circle_mm if pattern else None,
        float(details["bore"]) if "bore" in details else None,
    )  # fmt: skip


def _inches(text: str, written: str) -> float:
    whole, _, part = written.partition(" ")
    if not part:
        return float(whole)
    above, below = part.split("/")
    if below == "0":
        raise NotASize(text[:MAX_CHARACTERS], "a fraction divides by zero", _HOW_TO_WRITE)
    return int(whole) + int(above) / int(below)


def _wheel_details(text: str, rest: str) -> dict[str, str]:
    """Offset, pattern and bore, each at most once; a bare number is the bore once the pattern was said."""
    found: dict[str, str] = {}
    while rest := rest.strip():
        for kind, wanted in _DETAILS.items():
            match = wanted.match(rest)
            if match and (kind != "bore alone" or "pattern" in found):
                break
        else:
            raise NotASize(text[:MAX_CHARACTERS], f"“{rest}” is not known behind the size of a wheel", _do_with(rest))
        ((name, value),) = match.groupdict().items()
        if found.setdefault(name, value) != value:
            raise NotASize(
                text[:MAX_CHARACTERS], f"two figures for its {name}: {found[name]} and {value}", "Write one."
            )
        rest = rest[match.end() :]
    return found


def _do_with(rest: str) -> str:
    if rest.startswith(("BS", "BACKSPAC")):
        return "Work the offset out from the backspace first (wheels.offset_from_backspace), and write ET."
    if re.match(r"\d{1,2} ?[X/] ?\d{1,3}(?:\.\d+)?/", rest):
        return "The wheel has two patterns: write the one that is used."
    return _HOW_TO_WRITE


def _pattern(written: str, text: str) -> Pattern:
    try:
        found = parse_designation(written.lower(), "pattern")
    except DesignationError as error:
        raise NotASize(text, error.what, error.do) from None
    assert isinstance(found, Pattern)
    return found
