"""What each column of a list is for: by its header's words, then by what stands in it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from rapidfuzz import fuzz

from ..build import Problem, Refused
from ..build.numbers import Unreadable
from .amounts import find_currency, parse_price, parse_quantity, tax_hint
from .model import Cell, ColumnUse, Table, column_letter
from .words import column_words, plain, plain_words, words

FIELDS = (
    "name", "quantity", "unit", "unit_price", "total_price", "price", "estimate", "currency", "supplier", "lead_time",
    "phase", "system", "url", "note", "part_number", "mass", "origin", "supplier_country", "seen", "status", "have",
    "ordered", "ordered_on", "order_on", "return_days", "heading",
)  # fmt: skip
PRICE_FIELDS = ("unit_price", "price", "total_price", "estimate")
_MANY = frozenset({"note", "url"})
_GOOD = 80.0
_UNIT_WORDS = ("weeks", "days", "months", "kg", "g", "lb")


@lru_cache(maxsize=10_000)
def header_scores(header: str) -> Mapping[str, float]:
    """How well a header's words name each field, 0 to 100; fields below 80 are left out.

    Examples
    --------
    >>> header_scores("Levertijd (wk)")["lead_time"], header_scores("Preis / Stück (EUR)")["unit_price"] >= 80
    (100.0, True)
    >>> header_scores("Colour")
    {}
    """
    text = plain(re.sub(r"[(\[].*?[)\]]", " ", header)) or plain(header)
    if not text:
        sign = find_currency(header)
        return {"price": 95.0} if sign.code or sign.sign else {"position": 90.0} if header.strip() == "#" else {}
    text = _without_extras(text)
    if len(text) > 60:
        return {}
    scores = {field: max(_likeness(text, phrase) for phrase in phrases) for field, phrases in column_words().items()}
    found = {field: score for field, score in scores.items() if score >= _GOOD}
    if not found and find_currency(header).code and len(text.split()) <= 2:
        return {"price": 85.0}
    return found


def _without_extras(text: str) -> str:
    """The header without what it says of tax and currency."""
    padded = f" {text} "
    for word in sorted(plain_words("tax", "included") | plain_words("tax", "excluded"), key=len, reverse=True):
        if padded.strip() != word:
            padded = padded.replace(f" {word} ", " ")
    bare = " ".join(
        w for w in padded.split() if not find_currency(w.upper()).code and w not in {"in", "btw", "vat", "mwst"}
    )
    return bare or text


def _likeness(text: str, phrase: str) -> float:
    if text == phrase:
        return 100.0
    if f" {phrase} " in f" {text} ":
        # the longer the phrase within the header, the surer; a word at the end weighs more ("supplier part number")
        ends = 3.0 if text.endswith(phrase) or text.startswith(phrase) else 0.0
        return 70.0 + 22.0 * len(phrase) / len(text) + ends if len(phrase) > 1 else 0.0
    if len(text) >= 5 and len(phrase) >= 5:
        ratio = float(fuzz.ratio(text, phrase))
        return ratio - 4 if ratio >= 86 else 0.0
    return 0.0


def is_headerlike(cell: Cell) -> bool:
    """Whether a cell could name a column: short text without a figure of its own."""
    return isinstance(cell.value, str) and 0 < len(cell.text.strip()) <= 80 and not _is_figure(cell.text)


@lru_cache(maxsize=50_000)
def _is_figure(text: str) -> bool:
    return bool(re.match(r"^[^\w]*\d[\d.,' ]*[^\w]*(?:[A-Za-z€£$]{0,3})$", text.strip()))


@dataclass(frozen=True, slots=True)
class _Content:
    """Shares of a column's filled cells that hold what."""

    filled: int
    number: float
    price: float
    quantity: float
    counted: bool
    code: float
    link: float
    text: float
    sequence: bool
    distinct: float
    length: float


def _content(cells: Sequence[Cell]) -> _Content:
    seen = [cell for cell in cells if not cell.is_empty and not cell.merged_from][:400]
    count = len(seen)
    if not count:
        return _Content(0, 0, 0, 0, False, 0, 0, 0, False, 0, 0)
    texts = [cell.text.strip() for cell in seen]
    numbers = [cell.is_number or _is_figure(cell.text) for cell in seen]

    def share(flags: Iterable[bool]) -> float:
        return sum(flags) / count

    return _Content(
        count,
        share(numbers),
        share(cell.is_number or _reads(parse_price, cell.text) for cell in seen),
        share(cell.is_number or _reads(parse_quantity, cell.text) for cell in seen),
        _are_counts(texts),
        share(bool(re.match(r"^(?=.*\d)[\w./+-]{3,}$", text)) for text in texts),
        share(bool(re.match(r"^(https?://|www\.)\S+$", text)) for text in texts),
        share(any(c.isalpha() for c in text) for text in texts),
        _is_sequence(texts),
        len(set(texts)) / count,
        sum(map(len, texts)) / count,
    )


def _reads(parse: object, text: str) -> bool:
    try:
        parse(text, ".")  # type: ignore[operator]
    except Unreadable:
        return False
    return True


def _are_counts(texts: Sequence[str]) -> bool:
    """Whether small whole numbers stand in a column, some more than once, as counts do and part numbers do not."""
    small = [text for text in texts if re.match(r"^\d{1,3}(?!\d)(?:\s*[^\W\d]+.*)?$", text)]
    return len(small) >= 0.7 * len(texts) and len(set(small)) < len(small)


def _is_sequence(texts: Sequence[str]) -> bool:
    """Whether a column counts its rows: 1, 2, 3 or 1., 1.1, 1.2."""
    heads = [match[0] for text in texts if (match := re.match(r"^\d+(?:\.\d+)*(?=\.?\)?$)", text))]
    if len(heads) < max(2, 0.8 * len(texts)):
        return False
    values = [tuple(map(int, head.split("."))) for head in heads]
    return all(a < b for a, b in pairwise(values)) and values[0][0] <= 1 and values[-1][0] <= 2 * len(values)


def map_columns(table: Table, chosen: Mapping[str, str] | None = None) -> tuple[ColumnUse, ...]:
    """What each column of a table is taken for.

    Parameters
    ----------
    table : the table; chosen : fields the owner names, by header or column letter; "" for a note, "ignore" for nothing
    """
    contents = {
        column: _content([table.sheet.cell(row, column) for row in table.rows[:1000]]) for column in table.columns
    }
    headers = dict(zip(table.columns, table.headers, strict=True))
    uses = _chosen_uses(headers, chosen or {})
    taken = {field for field, _ in uses.values() if field}
    ranked = sorted(
        (
            (-score, FIELDS.index(field) if field in FIELDS else -1, column, field)
            for column, header in headers.items()
            if column not in uses
            for field, score in _fitting(header, contents[column]).items()
        ),
    )
    for score, _, column, field in ranked:
        if column in uses or (field in taken and field not in _MANY):
            continue
        uses[column] = (field, "its header" if -score >= 99 else "its header's words")
        taken.add(field)
    _by_content(headers, contents, uses, taken)
    return tuple(
        ColumnUse(table.sheet.name, column, headers[column], *_shown(uses.get(column), contents[column]))
        for column in table.columns
    )


def _shown(use: tuple[str, str] | None, content: _Content) -> tuple[str, str]:
    if use is None:
        return "", "kept as a note" if content.filled else "empty"
    return use


def _chosen_uses(headers: Mapping[int, str], chosen: Mapping[str, str]) -> dict[int, tuple[str, str]]:
    uses = {}
    for key, field in chosen.items():
        for column, header in headers.items():
            if plain(key) == plain(header) != "" or key.strip() == header.strip() or key == column_letter(column):
                uses[column] = (field, "as you said")
    return uses


def check_chosen(chosen: Mapping[str, str], tables: Sequence[Table]) -> None:
    """Refuse a mapping that names a field or a column that is not there."""
    problems = []
    seen = {plain(header) for table in tables for header in table.headers} | {
        column_letter(column) for table in tables for column in table.columns
    }
    headers = ", ".join(dict.fromkeys(header for table in tables for header in table.headers if header))
    for key, field in chosen.items():
        if field not in FIELDS and field != "ignore":
            problems.append(
                Problem(
                    f"mapping {key}",
                    "unknown-field",
                    "there is no such field",
                    field,
                    f"The fields are: {', '.join(FIELDS)}, ignore.",
                )
            )
        if plain(key) not in seen and key not in seen:
            problems.append(
                Problem(
                    f"mapping {key}", "no-such-column", "no column has this header", key, f"The headers are: {headers}."
                )
            )
    if problems:
        raise Refused(problems)


def _fitting(header: str, content: _Content) -> dict[str, float]:
    """The fields a header names, weighed by whether the column holds such things."""
    scores = dict(header_scores(header))
    if not content.filled:
        return scores
    if (
        content.sequence
        and ("position" in scores or "part_number" in scores or "name" in scores)
        and content.text < 0.2
    ):
        return {"position": 100.0}
    if (
        scores.keys() & {"position", "part_number"}
        and "quantity" not in scores
        and content.quantity > 0.8
        and content.counted
    ):
        # "No." over "2 off" and "1 set" counts
        return {"quantity": 90.0}
    for field, share in (*((field, content.price) for field in PRICE_FIELDS), ("quantity", content.quantity)):
        # a column plainly called so is read as such, and what can't be read in it is said
        if field in scores and share < 0.4 and (scores[field] < 99 or content.length > 20):
            del scores[field]
    hint = find_currency(header)
    if content.price > 0.3 and (hint.code or hint.sign) and scores.keys() & {"unit", "position"}:
        # "Unit £" and "Line £" of a quotation
        return {"unit_price": 95.0} if "unit" in scores else {"total_price": 95.0}
    if "unit" in scores and content.number > 0.5:
        # "units" over numbers counts them
        scores["quantity"] = scores.pop("unit") - 5
    scores.pop("position", None)
    if "name" in scores:
        if content.text < 0.3:
            del scores["name"]
        elif content.code > 0.6 and content.length < 25:
            scores["part_number"] = max(scores.get("part_number", 0.0), scores["name"] - 6)
            scores["name"] = scores["name"] - 12
    if "part_number" in scores and content.code < 0.3 and content.length > 25:
        scores["part_number"] -= 25
    if "status" in scores and content.number > 0.7:
        del scores["status"]
    if (
        "lead_time" in scores
        and plain(header) in {"delivery", "livraison", "levering"}
        and content.price > 0.9
        and find_currency(header).code
    ):
        del scores["lead_time"]
    if "supplier" in scores and content.number > 0.5:
        del scores["supplier"]
    return {field: score for field, score in scores.items() if score > 60}


def _by_content(
    headers: Mapping[int, str], contents: Mapping[int, _Content], uses: dict[int, tuple[str, str]], taken: set[str]
) -> None:
    """Give the columns that matter most a use by what they hold, where no header names them."""
    free = [column for column in headers if column not in uses and contents[column].filled]
    bare = not any(headers.values())
    if "name" not in taken:
        texts = [
            c
            for c in free
            if contents[c].text > 0.6 and contents[c].link < 0.5 and (bare or contents[c].distinct > 0.4)
        ]
        if texts:
            most = max(contents[c].filled for c in texts)
            best = max(texts, key=lambda c: (contents[c].distinct > 0.5, contents[c].filled > 0.8 * most, -c))
            uses[best] = ("name", "what stands in it")
            taken.add("name")
    if not bare:
        return
    for column in free:
        if column in uses:
            continue
        content = contents[column]
        if content.link > 0.5:
            uses[column] = ("url", "what stands in it")
        elif content.sequence and column == min(headers):
            uses[column] = ("position", "it counts the rows")
    _bare_numbers([c for c in free if c not in uses and contents[c].price > 0.6], contents, uses, taken)


def _bare_numbers(
    columns: Sequence[int], contents: Mapping[int, _Content], uses: dict[int, tuple[str, str]], taken: set[str]
) -> None:
    """Of a list without headers, the last column of numbers is the price, one before it the quantity."""
    if columns and not taken & set(PRICE_FIELDS):
        uses[columns[-1]] = ("price", "what stands in it")
        if len(columns) > 1 and contents[columns[0]].quantity > 0.8:
            uses[columns[0]] = ("quantity", "what stands in it")


def header_unit(header: str, kinds: Sequence[str] = _UNIT_WORDS) -> str | None:
    """The unit a header gives for its numbers, of the kinds asked for.

    Examples
    --------
    >>> header_unit("Lead time (wks)"), header_unit("Gewicht [g]"), header_unit("Price")
    ('weeks', 'g', None)
    """
    found = [kind for kind in kinds if set(plain(header).split()) & words("header_units", kind)]
    return found[0] if found else None


def header_tax(header: str) -> bool | None:
    """Whether a header says its prices carry sales tax."""
    return tax_hint(header)
