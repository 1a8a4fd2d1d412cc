"""What kind of file it is, by its content, and whether it is safe to open."""

from __future__ import annotations

import re
import zipfile
import zlib
from io import BytesIO
from pathlib import Path
from typing import Literal, NoReturn

from ..build import Problem, Refused

Kind = Literal["xlsx", "ods", "text", "page", "message"]

MAX_FILE_BYTES = 64 * 1024 * 1024
MAX_UNPACKED_BYTES = 256 * 1024 * 1024
# Sheets of a hundred thousand like rows pack to about a fiftieth; a bomb to about a thousandth.
MAX_RATIO = 200
RATIO_COUNTS_FROM = 4 * 1024 * 1024
MAX_ROWS, MAX_COLUMNS, MAX_CELL = 100_000, 1_000, 32_767

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_OTHERS = {
    b"%PDF": ("a PDF", "Copy its table into a spreadsheet and save that."),
    b"SQLite format 3": ("a build file", "Name it first, and the list to import after it."),
    b"\x89PNG": ("a picture", "Type its table into a spreadsheet."),
    b"\xff\xd8\xff": ("a picture", "Type its table into a spreadsheet."),
    b"GIF8": ("a picture", "Type its table into a spreadsheet."),
    b"\x1f\x8b": ("a gzip archive", "Unpack it first."),
    b"7z\xbc\xaf": ("a 7z archive", "Unpack it first."),
    b"Rar!": ("a RAR archive", "Unpack it first."),
    b"{\\rtf": ("a text document", "Save its table as CSV or XLSX."),
}


def refuse(where: str, code: str, what: str, got: str, do: str) -> NoReturn:
    """Refuse a file with one problem."""
    raise Refused([Problem(where, code, what, got, do)])


def read_bytes(path: Path) -> bytes:
    """The content of a file; raises Refused with the remedy where it can't be read."""
    name = path.name
    if path.is_dir():
        refuse(name, "directory", "this is a folder, not a list", "", "Name the file in it.")
    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            refuse(name, "too-large", "the file is larger than 64 MiB", str(path.stat().st_size), "Split the list.")
        data = path.read_bytes()
    except FileNotFoundError:
        refuse(name, "no-such-file", "there is no such file", str(path), "Check the name.")
    except OSError as error:
        refuse(name, "unreadable", f"it can't be read: {error.strerror}", "", "Check the file and who may read it.")
    return filled(data, name)


def filled(data: bytes, name: str) -> bytes:
    """The content of a file, if there is any and not too much of it; raises Refused otherwise."""
    if len(data) > MAX_FILE_BYTES:
        refuse(name, "too-large", "the file is larger than 64 MiB", str(len(data)), "Split the list.")
    if not data.strip():
        refuse(name, "empty", "the file is empty", "", "Save the list again; check that it is the right file.")
    return data


def kind_of(data: bytes, name: str) -> Kind:
    """Which reader a file needs, by its content and not its name; raises Refused for what none reads."""
    if data.startswith(_OLE):
        _refuse_ole(data, name)
    if data.startswith(b"PK"):
        return _kind_of_zip(data, name)
    for start, (kind, do) in _OTHERS.items():
        if data.startswith(start):
            refuse(name, "not-a-list", f"this is {kind}, not a list", "", do)
    return "message" if is_message(data) else "page" if _is_page(data) else "text"


_HEADER = re.compile(rb"[A-Za-z][A-Za-z0-9-]{0,60}:[^\n]*\n(?:[ \t][^\n]*\n)*")
_PAGE = re.compile(
    rb"<(?:!doctype\s+html|html|head|body|table|title|meta|script|div|article|section|main|\?xml)\b", re.I
)


def is_message(data: bytes) -> bool:
    """Whether bytes begin as a mail or an MHTML page does: with headers, some of them those of a message.

    Examples
    --------
    >>> is_message(b"From: a@b.example\\r\\nSubject: Order\\r\\n\\r\\nHello"), is_message(b"Part: Hub\\nPrice: 3\\n\\n")
    (True, False)
    """
    head = re.sub(rb"\AFrom [^\n]{0,300}\n", b"", data[:65536].lstrip(b"\xef\xbb\xbf\r\n"))
    names, at = set(), 0
    while found := _HEADER.match(head, at):
        names.add(found[0].partition(b":")[0].lower())
        at = found.end()
    return b"mime-version" in names or (b"from" in names and bool(names & {b"subject", b"date", b"message-id"}))


def _is_page(data: bytes) -> bool:
    """Whether bytes begin as a web page does, comments before it left aside, in any of the encodings pages use."""
    head = data[:4096].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    while head.startswith(b"<!--") and b"-->" in head:
        head = head.partition(b"-->")[2].lstrip()
    return bool(_PAGE.match(head)) or head.startswith(b"<!--")


def _refuse_ole(data: bytes, name: str) -> NoReturn:
    if "EncryptedPackage".encode("utf-16-le") in data:
        refuse(
            name, "encrypted", "the workbook is locked with a password", "", "Open it, remove the password, save again."
        )
    refuse(name, "legacy-format", "this is the old binary format .xls", "", "Open it and save as .xlsx, .ods or .csv.")


def _kind_of_zip(data: bytes, name: str) -> Kind:
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            _check_size(archive, name)
            members = set(archive.namelist())
            kind = _member_kind(archive, members, name)
            for member in archive.infolist():
                _check_member(archive, member, name)
            return kind
    except (
        zipfile.BadZipFile,
        EOFError,
        OSError,
        NotImplementedError,
        RuntimeError,
        ValueError,
        zlib.error,
    ) as error:
        if "password" in str(error) or "encrypted" in str(error):
            refuse(name, "encrypted", "the file is locked with a password", "", "Remove the password and save again.")
        refuse(name, "damaged", "the file is cut off or damaged", "", "Save or download it again.")


def _check_size(archive: zipfile.ZipFile, name: str) -> None:
    unpacked = sum(member.file_size for member in archive.infolist())
    if unpacked > MAX_UNPACKED_BYTES:
        refuse(name, "too-large", "unpacked it is larger than 256 MiB", f"{unpacked} bytes", "Split the list.")
    for member in archive.infolist():
        if member.file_size > RATIO_COUNTS_FROM and member.file_size > MAX_RATIO * max(1, member.compress_size):
            where = f"{name}, {member.filename}"
            refuse(
                where,
                "zip-bomb",
                "it unpacks to far more than it holds",
                f"{member.file_size} bytes from {member.compress_size}",
                "Save the list anew from a spreadsheet program.",
            )


def _member_kind(archive: zipfile.ZipFile, members: set[str], name: str) -> Kind:
    if "xl/workbook.bin" in members:
        refuse(name, "legacy-format", "this is the binary format .xlsb", "", "Open it and save as .xlsx, .ods or .csv.")
    if any(member.startswith("xl/workbook") for member in members):
        return "xlsx"
    if "content.xml" in members and "mimetype" in members and b"spreadsheet" in archive.read("mimetype"):
        manifest = archive.read("META-INF/manifest.xml") if "META-INF/manifest.xml" in members else b""
        if b"encryption-data" in manifest:
            refuse(name, "encrypted", "the file is locked with a password", "", "Remove the password and save again.")
        return "ods"
    refuse(
        name,
        "not-a-list",
        "this archive is not a spreadsheet",
        ", ".join(sorted(members)[:3]),
        "Save the list as XLSX, ODS or CSV.",
    )


_DOCTYPE = re.compile(
    rb"<!\s*(?:DOCTYPE|ENTITY)|<\0!\0(?:D\0O\0C\0T|E\0N\0T)|\0<\0!\0(?:D\0O\0C|E\0N\0T)", re.IGNORECASE
)


def _check_member(archive: zipfile.ZipFile, member: zipfile.ZipInfo, name: str) -> None:
    """Read a part once through: it must unpack whole, declare no entities and hold no more rows than we take."""
    rows, tail = 0, b""
    with archive.open(member) as stream:
        while chunk := stream.read(1 << 20):
            piece = tail + chunk
            if _DOCTYPE.search(piece):
                refuse(
                    f"{name}, {member.filename}",
                    "entities",
                    "its XML declares entities, which no spreadsheet needs",
                    "",
                    "Save the list anew from a spreadsheet program.",
                )
            rows += len(_FULL_ROW.findall(chunk))
            tail = piece[-64:]
    if member.filename.startswith("xl/worksheets/") and rows > 2 * MAX_ROWS:
        refuse(
            f"{name}, {member.filename}",
            "too-many-rows",
            f"it has more than {MAX_ROWS} rows",
            str(rows),
            "Split the list.",
        )


_FULL_ROW = re.compile(rb"<row [^>]*[^/]>\s*<c ")
