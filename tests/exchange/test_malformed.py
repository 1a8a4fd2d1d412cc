# ruff: noqa: E501 - tables of cases, one a line
"""Input that is not what it should be is refused with place, fault and remedy, and changes nothing."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from fishplate.build import Build
from fishplate.build.parts import Part
from fishplate.cli import main
from fishplate.store import BuildFile

GOOD = b"Part,Qty,Price\nDisc,2,64.50 GBP\nPad,1,47.00 GBP\n"
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
BOMB = b'<?xml version="1.0"?><!DOCTYPE r [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><r>&b;</r>'


def _xlsx(change: Callable[[Any], None] | None = None) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (["Part", "Qty", "Price"], ["Disc", 2, 64.5], ["Pad", 1, 47]):
        sheet.append(row)
    if change is not None:
        change(sheet)
    buffer = BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _repacked(data: bytes, changes: dict[str, bytes | None]) -> bytes:
    """A zip archive with some members replaced, added, or left out."""
    buffer = BytesIO()
    with zipfile.ZipFile(BytesIO(data)) as old, zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            if name not in changes:
                new.writestr(name, old.read(name))
        for name, content in changes.items():
            if content is not None:
                new.writestr(name, content)
    return buffer.getvalue()


def _zip(**members: bytes) -> bytes:
    buffer = BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("__", "/").replace("_", "."), content)
    return buffer.getvalue()


def _ods(content: bytes, manifest: bytes = b"<m/>") -> bytes:
    buffer = BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", b"application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", manifest)
    return buffer.getvalue()


def _set(place: str, value: Any) -> Callable[[Any], None]:
    return lambda sheet: sheet.__setitem__(place, value)


def _own(header: str, row: str) -> bytes:
    book = openpyxl.Workbook()
    book.active.append(header.split(","))
    book.active.append(row.split(","))
    buffer = BytesIO()
    book.save(buffer)
    return buffer.getvalue()


SHARED = "xl/sharedStrings.xml"
SHEET = "xl/worksheets/sheet1.xml"

# name of the file, its content, words the refusal must hold: the place, the fault, the remedy
LISTS: dict[str, tuple[str, bytes | Callable[[], bytes], tuple[str, ...]]] = {
    "empty": ("list.csv", b"", ("list.csv", "the file is empty", "Save the list again")),
    "blank": ("list.csv", b" \r\n\t\n", ("list.csv", "the file is empty", "Save the list again")),
    "only marks": ("list.csv", b",,,\n,,,\n", ("list.csv", "there is nothing in it", "Save the list again")),
    "garbage": ("list.xlsx", bytes(range(256)) * 40, ("list.xlsx", "not text", "Save the list as XLSX, ODS or CSV")),
    "nul": ("list.csv", b"Part,Price\nDi\0sc,12\n", ("list.csv, line 2", "NUL", "Save it again as CSV")),
    "odd UTF-16": ("list.csv", b"\xff\xfeP\0a\0r\0t\0\n\0x", ("list.csv, byte", "not UTF-16", "Save it as UTF-8")),
    "cut-off archive": ("list.xlsx", lambda: _xlsx()[:2000], ("list.xlsx", "cut off or damaged", "Save or download it again")),
    "other archive": ("list.xlsx", lambda: _zip(word__document_xml=b"<d/>"), ("list.xlsx", "not a spreadsheet", "Save the list as")),
    "old format": ("list.xlsx", OLE + b"\0" * 600, ("list.xlsx", ".xls", "save as .xlsx")),
    "locked": ("list.xlsx", OLE + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"), ("list.xlsx", "password", "remove the password")),
    "binary workbook": ("list.xlsx", lambda: _zip(xl__workbook_bin=b"x"), ("list.xlsx", ".xlsb", "save as .xlsx")),
    "locked document": ("list.ods", lambda: _ods(b"x", b"<m><encryption-data/></m>"), ("list.ods", "password", "Remove the password")),
    "zip bomb": ("list.xlsx", lambda: _repacked(_xlsx(), {"xl/media/a.xml": b" " * 40_000_000}), ("xl/media/a.xml", "far more than it holds", "Save the list anew")),
    "too much unpacked": ("list.xlsx", lambda: _huge_when_unpacked(), ("list.xlsx", "larger than 256 MiB", "Split the list")),
    "entities": ("list.xlsx", lambda: _repacked(_xlsx(), {SHARED: BOMB}), (SHARED, "declares entities", "Save the list anew")),
    "entities in UTF-16": ("list.xlsx", lambda: _repacked(_xlsx(), {SHARED: BOMB.decode().encode("utf-16")}), (SHARED, "declares entities", "Save the list anew")),
    "entities in a document": ("list.ods", lambda: _ods(BOMB), ("content.xml", "declares entities", "Save the list anew")),
    "broken XML": ("list.xlsx", lambda: _repacked(_xlsx(), {SHEET: b"<worksheet><sheetData><row>"}), ("list.xlsx", "damaged", "save it again")),
    "missing member": ("list.xlsx", lambda: _repacked(_xlsx(), {SHEET: None}), ("list.xlsx", "names sheets that are not in it", "save it again")),
    "broken document": ("list.ods", lambda: _ods(b"<office><table>"), ("list.ods", "damaged", "save it again")),
    "rows without end": ("list.csv", lambda: b"Part,Price\n" + b"Disc,1\n" * 100_001, ("list.csv", "more than 100000 rows", "Split the list")),
    "a cell far down": ("list.xlsx", lambda: _xlsx(_set("A1048576", "x")), ("row 1048576", "beyond 100000 rows", "delete what lies below")),
    "columns without end": ("list.csv", lambda: b"Part" + b",x" * 1_200 + b"\n", ("list.csv, row 1", "more than 1000 columns", "Remove what is not part")),
    "a cell far right": ("list.xlsx", lambda: _xlsx(_set("XFD1", "x")), ("column XFD", "beyond 1000 columns", "Delete what is not part")),
    "a cell without end": ("list.csv", lambda: b"Part,Price\n" + b"x" * 33_000 + b",1\n", ("list.csv, row 2", "more than 32767 characters", "Shorten it")),
    "open quotation mark": ("list.csv", b'Part,Price\n"Disc,12\nPad,13\n', ("list.csv, line 2", "never closed", "Close it")),
    "PDF": ("list.csv", b"%PDF-1.7\n...", ("list.csv", "a PDF", "Copy its table")),
    "picture": ("list.csv", b"\x89PNG\r\n\x1a\n", ("list.csv", "a picture", "Type its table")),
    "gzip": ("list.csv", b"\x1f\x8b\x08\0\0", ("list.csv", "gzip", "Unpack it")),
    "web page": ("list.xls", b"<!DOCTYPE html><table><tr><td>Disc</td></tr></table>", ("list.xls", "web page", "save as XLSX")),
    "JSON": ("list.csv", b'{"parts": []}', ("list.csv", "JSON", "Export it as XLSX or CSV")),
    "a build file": ("list.csv", b"SQLite format 3\0" + b"\0" * 100, ("list.csv", "a build file", "the list to import after it")),
    "prose": ("list.txt", b"Dear reader, this is a letter about brakes, and it goes on for a good while without any list.\n" * 3, ("list.txt", "no list of parts", "A line names a part and its price")),
    "price in words": ("list.csv", GOOD + b"Hose,1,12.4O GBP\n", ("list.csv, row 4, column C (Price)", "not an amount ('12.4O GBP')", "Use digits")),
    "price below zero": ("list.csv", GOOD + b"Hose,1,-12.40 GBP\n", ("row 4, column C (Price)", "below zero", "Correct it")),
    "quantity in words": ("list.csv", GOOD + b"Hose,a few,12.40 GBP\n", ("row 4, column B (Qty)", "not a quantity ('a few')", "Use digits")),
    "quantity below zero": ("list.csv", GOOD + b"Hose,-2,12.40 GBP\n", ("row 4, column B (Qty)", "below zero", "Correct it")),
    "two quantities": ("list.csv", GOOD + b"Hose,2 x 5 m,12.40 GBP\n", ("row 4, column B (Qty)", "not one quantity", "Write one number")),
    "ambiguous price": ("list.csv", b"Part;Price\nDisc;1.234\nPad;2.500\n", ("row 2, column B (Price)", "1234 or 1.234", "--decimal comma")),
    "ambiguous dollars": ("list.csv", b"Part,Price\nDisc,$12.50\n", ("row 2, column B (Price)", '"$" could be USD', "--currency USD")),
    "unknown currency": ("list.csv", b"Part,Price,Currency\nDisc,12.50,shells\n", ("row 2, column C (Currency)", "not a currency", "such as EUR")),
    "spreadsheet error": ("list.xlsx", lambda: _xlsx(_set("C3", "#REF!")), ("sheet Sheet, row 3, column C (Price)", "spreadsheet error ('#REF!')", "Correct the formula")),
    "formula without value": ("list.xlsx", lambda: _xlsx(_set("C3", "=B3*2")), ("row 3, column C (Price)", "whose value was not saved", "save it, or write the value")),
    "a name without end": ("list.csv", GOOD + b"x" * 500 + b",1,2 GBP\n", ("row 4, column A (Part)", "longer than 400 characters", "Shorten it")),
    "part of no system": ("list.xlsx", lambda: _own("Part id,Name,Part number,System id", "hub,Hub,,nowhere"), ("parts (hub), system", "no such one among the systems ('nowhere')", "Add it to systems")),
    "offer without money": ("list.xlsx", lambda: _own("Offer id,Supplier id,Part id,Price,Currency", "o,s,hub,12,"), ("sheet Sheet, row 2, price, currency", "required", "Correct it there")),
    "unreadable own cell": ("list.xlsx", lambda: _own("Part id,Name,Part number,Quantity", "hub,Hub,,lots"), ("row 2, column D (Quantity)", "not a number ('lots')", "Correct it there")),
}  # fmt: skip


def _huge_when_unpacked() -> bytes:
    """An archive of many parts, each of a ratio that would pass, together past the limit."""
    import random

    noise = random.Random(1).randbytes(8_000) + b"\0" * 1_000_000
    return _repacked(_xlsx(), {f"xl/media/{n}.bin": noise for n in range(270)})


def _status(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    with pytest.raises(SystemExit) as left:
        main(arguments)
    said = capsys.readouterr().err
    assert isinstance(left.value.code, int)
    return left.value.code, said


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A build file with a part in it, and its digest."""
    path = tmp_path_factory.mktemp("kept") / "kept.fishplate"
    BuildFile.create(path, Build(parts=(Part(id="rack", name="Steering rack"),)), author="test")
    return path, hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize("case", LISTS)
def test_a_malformed_list_is_refused_and_the_build_is_unchanged_bit_for_bit(
    case: str, kept: tuple[Path, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name, content, wanted = LISTS[case]
    path = tmp_path / name
    path.write_bytes(content() if callable(content) else content)
    build, digest = kept
    status, said = _status(["import", str(build), str(path), "--yes"], capsys)
    assert status == 1
    for words in wanted:
        assert words in said
    assert "Traceback" not in said
    assert hashlib.sha256(build.read_bytes()).hexdigest() == digest


@pytest.mark.parametrize(
    ("arguments", "wanted"),
    [
        (["nothing-there.csv"], ("nothing-there.csv", "no such file", "Check the name")),
        (["."], ("folder", "Name the file in it")),
        (["good.csv", "--sheet", "Brakes"], ("good.csv", "no such sheet ('Brakes')", "The sheets are: none")),
        (
            ["good.csv", "--map", "Cost=price"],
            ("mapping Cost", "no column has this header", "The headers are: Part, Qty, Price"),
        ),
        (["good.csv", "--map", "Price=prize"], ("mapping Price", "no such field ('prize')", "The fields are: name")),
    ],
)
def test_a_list_that_is_not_there_or_not_so_is_refused(
    arguments: list[str], wanted: tuple[str, ...], kept: tuple[Path, str], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    (tmp_path / "good.csv").write_bytes(GOOD)
    monkeypatch.chdir(tmp_path)
    build, digest = kept
    status, said = _status(["import", str(build), *arguments, "--yes"], capsys)
    assert status == 1
    for words in wanted:
        assert words in said
    assert hashlib.sha256(build.read_bytes()).hexdigest() == digest


@pytest.mark.parametrize(
    ("content", "wanted"),
    [
        (b"", ("b.fishplate", "empty")),
        (b"SQLite format 3\0" + b"x" * 5000, ("b.fishplate",)),
        (b'{"name": "Van"}', ("b.fishplate", "not a build file")),
        (b"\0" * 5000, ("b.fishplate",)),
    ],
)
def test_a_list_is_not_imported_into_what_is_no_build_file(
    content: bytes, wanted: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "good.csv").write_bytes(GOOD)
    build = tmp_path / "b.fishplate"
    build.write_bytes(content)
    status, said = _status(["import", str(build), str(tmp_path / "good.csv"), "--yes"], capsys)
    assert status == 1
    for words in wanted:
        assert words in said
    assert build.read_bytes() == content


def _document(**fields: Any) -> bytes:
    return json.dumps({"name": "Van", **fields}).encode()


DOCUMENTS: dict[str, tuple[bytes, tuple[str, ...]]] = {
    "cut off": (b'{"name": "Van", "parts": [{"id": "a"', ("line 1, column", "not JSON", "cut-off file")),
    "key twice": (b'{"name": "Van", "name": "Car"}', ("'name' stands twice", "Correct it")),
    "not a number": (b'{"name": "Van", "parts": [{"id": "a", "name": "A", "quantity": NaN}]}', ("NaN is not a number", "Correct it")),
    "too deep": (b"[" * 200_000, ("nested too deeply", "Flatten")),
    "newer": (_document(version=99), ("newer program", "Update Fishplate")),
    "a list": (b"[]", ("a build document is an object", "Wrap it")),
    "not UTF-8": (b'{"name": "V\xe4n"}', ("byte 11", "not UTF-8", "Save it as UTF-8")),
    "unknown field": (_document(wheels=4), ("wheels", "does not know", "check its spelling")),
    "missing field": (_document(parts=[{"id": "a"}]), ("parts 1 (a), name", "missing", "Add it")),
    "refers to nothing": (_document(stock=[{"id": "s", "part": "a"}]), ("stock (s), part", "no such one among the parts ('a')", "Add it to parts")),
    "id twice": (_document(parts=[{"id": "a", "name": "A"}] * 2), ("parts (a)", "have this id", "Give each its own")),
    "price below zero": (
        _document(
            suppliers=[{"id": "s", "name": "S", "country": "NL", "currency": "EUR"}],
            parts=[{"id": "a", "name": "A"}],
            offers=[{"id": "o", "supplier": "s", "part": "a", "price": {"amount": "-1", "currency": "EUR"}}],
        ),
        ("offers 1 (o)", "below zero", "Correct it"),
    ),
    "jobs in a circle": (
        _document(
            jobs=[
                {"id": a, "name": a, "phase": "finish", "hours": {"low": 1, "likely": 1, "high": 1}, "after": [{"job": b}]}
                for a, b in (("x", "y"), ("y", "x"))
            ]
        ),
        ("jobs (x)", "wait for each other in a circle", "Remove one of the links"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", DOCUMENTS)
def test_a_malformed_build_document_is_refused(case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    content, wanted = DOCUMENTS[case]
    path = tmp_path / "van.json"
    path.write_bytes(content)
    status, said = _status(["check", str(path)], capsys)
    assert status == 1
    for words in ("van.json", *wanted):
        assert words in said
    assert "Traceback" not in said


def test_a_workbook_under_another_name_is_read_by_its_content(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(_xlsx())
    status, _ = _status(["import", str(tmp_path / "new.fishplate"), str(path), "--yes"], capsys)
    assert status == 0
    assert BuildFile.open(tmp_path / "new.fishplate").build().find("parts", "disc").quantity == 2
