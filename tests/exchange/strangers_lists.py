"""Lists as strangers keep them, each of another shape. Names are invented."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import xlsxwriter
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet


def workshop_xlsx(path: Path) -> Path:
    """Title rows, merged sections, subtotals by formula, cell notes, currency formats, a hidden row, a link."""
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("Parts")
    pounds = book.add_format({"num_format": "[$£-809]#,##0.00"})
    euros = book.add_format({"num_format": "€ #,##0.00"})
    bold = book.add_format({"bold": True})
    sheet.write("A1", "Marsh wagon rebuild", bold)
    sheet.write("A2", "list kept since the spring")
    for column, header in enumerate(
        ["Item", "Part no.", "Qty", "Unit price", "Total", "Supplier", "Lead time", "Colour"]
    ):
        sheet.write(3, column, header, bold)
    sheet.merge_range("A5:H5", "BRAKES", bold)
    rows: list[tuple[Any, ...]] = [
        ("Front disc, vented 280", "FD-280", 2, 64.5, pounds, "Saltmere Stores", "3 wk", "plain"),
        ("Pad set, front", "PS-11", 1, 47, pounds, "Saltmere Stores", "in stock", ""),
        ('Master cylinder 3/4"', "MC-34", 1, 1079, euros, "Lindhafen Technik", "2-3 weeks", ""),
    ]
    for number, (name, code, count, price, money, supplier, lead, colour) in enumerate(rows, 5):
        sheet.write_row(number, 0, [name, code, count])
        sheet.write_number(number, 3, price, money)
        sheet.write_formula(number, 4, f"=C{number + 1}*D{number + 1}", money, count * price)
        sheet.write_row(number, 5, [supplier, lead, colour])
    sheet.write_comment("A6", "check the bolt circle first")
    sheet.write("A9", "Subtotal")
    sheet.write_formula("E9", "=SUM(E6:E8)", None, 129 + 47 + 1079)
    sheet.merge_range("A11:H11", "STEERING", bold)
    sheet.write_row("A12", ["Rack, quick", "RK-1", 1])
    sheet.write_number("D12", 389, euros)
    sheet.write("F12", "Lindhafen Technik")
    sheet.write_url("F13", "https://saltmere.example/arm", string="Saltmere Stores")
    sheet.write_row("A13", ["Steering arm", "SA-2", 2])
    sheet.write_number("D13", 25.25, pounds)
    sheet.set_row(12, None, None, {"hidden": True})
    sheet.write("A15", "Grand total")
    sheet.write_number("E15", 1694.5)
    sheet.write(
        "A17", "Prices were asked for by telephone and may have changed since; ask again before ordering anything."
    )
    book.close()
    return path


def two_line_header_xlsx(path: Path) -> Path:
    """A header of two lines, the upper one merged over the prices, and one system named down several rows."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = "Stückliste"
    sheet.append(["Baugruppe", "Bezeichnung", "Menge", "Preis", None, "Lieferzeit", "Lieferant"])
    sheet.append([None, None, None, "Einzel (EUR)", "Gesamt (EUR)", "Tage", None])
    sheet.merge_cells("D1:E1")
    for column in "ABCG":
        sheet.merge_cells(f"{column}1:{column}2")
    sheet.append(["Fahrwerk", "Querlenker", 2, 86.5, 173, 10, "Lindhafen Technik"])
    sheet.append([None, "Stoßdämpfer", 4, 120, 480, 21, "Lindhafen Technik"])
    sheet.append([None, "Buchsensatz", 1, 88, 88, 5, "Feder und Werk"])
    sheet.merge_cells("A3:A5")
    sheet.append(["Zwischensumme", None, None, None, 741])
    sheet.append(["Bremsen", "Bremsscheibe", 2, 64.5, 129, 7, "Feder und Werk"])
    sheet["B7"].comment = Comment("Lochkreis prüfen", "x")
    book.save(path)
    return path


def sheet_a_system_xlsx(path: Path) -> Path:
    """A sheet for each system, and one that is no list."""
    book = openpyxl.Workbook()
    read_me = book.active
    assert isinstance(read_me, Worksheet)
    read_me.title = "Read me"
    read_me.append(
        ["This workbook lists what I think I need. Prices are guesses until they have been asked for again."]
    )
    for name, rows in {
        "Cooling": [["Radiator recore", 1, 285], ["Hose, top", 1, 18.5], ["Clip 25 mm", 6, 0.85]],
        "Winch and bumper": [["Winch plate", 1, 140], ["Bolt M12", 4, 1.2]],
    }.items():
        sheet = book.create_sheet(name)
        sheet.append(["What", "How many", "Price each (GBP)"])
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def side_by_side_xlsx(path: Path) -> Path:
    """Two tables beside each other on one sheet."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.append(["BRAKES", None, None, None, "LIGHTING"])
    sheet.append(["Part", "Qty", "Price", None, "Part", "Qty", "Price"])
    sheet.append(["Disc", 2, "£64.50", None, "Head lamp", 2, "£39.00"])
    sheet.append(["Pad set", 1, "£47", None, "Tail lamp", 2, "£21.00"])
    sheet.append(["Hose", 3, "£12.20"])
    book.save(path)
    return path


def ticked_xlsx(path: Path) -> Path:
    """A shopping list ticked off: what is there, what is ordered, what it cost."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.append(["#", "Part", "Need", "Got?", "Ordered", "Est. cost", "Price paid", "Where"])
    sheet.append([1, "Wiring loom", 1, "✓", None, 300, 285, "Prairie Lantern"])
    sheet.append([2, "Relay", 6, 4, None, 5, None, "Prairie Lantern"])
    sheet.append([3, "Battery tray", 1, None, "y", 40, 38.5, "Saltmere Stores"])
    sheet.append([4, "Earth strap", 2, None, None, 8, None, "?"])
    sheet.append([5, "Fuse box", 0, None, None, 30, None, None])
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    book.save(path)
    return path


def onderdelen_ods(path: Path) -> Path:
    """A Dutch OpenDocument list with a merged supplier, an annotation, and amounts in euros."""
    from odf.office import Annotation
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import CoveredTableCell, Table, TableCell, TableRow
    from odf.text import P

    document = OpenDocumentSpreadsheet()
    table = Table(name="Onderdelen")

    def text(value: str, **attributes: Any) -> Any:
        cell = TableCell(valuetype="string", **attributes)
        cell.addElement(P(text=value))
        return cell

    def number(value: float) -> Any:
        cell = TableCell(valuetype="float", value=str(value))
        cell.addElement(P(text=f"{value:g}"))
        return cell

    def euros(value: float) -> Any:
        cell = TableCell(valuetype="currency", currency="EUR", value=str(value))
        cell.addElement(P(text=f"€ {value:.2f}".replace(".", ",")))
        return cell

    def add(*cells: Any, **attributes: Any) -> None:
        row = TableRow(**attributes)
        for cell in cells:
            row.addElement(cell)
        table.addElement(row)

    add(*(text(t) for t in ("Onderdeel", "Aantal", "Stukprijs", "Leverancier", "Levertijd", "Kleur")))
    noted = text("Waterpomp")
    note = Annotation()
    note.addElement(P(text="let op: linkse draad"))
    noted.addElement(note)
    add(noted, number(1), euros(112.4), text("Veerhoek Motoren", numberrowsspanned="2"), text("2 weken"), text("zwart"))
    add(text("Thermostaat"), number(1), euros(23.9), CoveredTableCell(), text("3-5 dagen"))
    add(TableCell(numbercolumnsrepeated="1024"), numberrowsrepeated="500")
    add(text("Slangklem"), number(12), euros(1.15), text("Klem en Co"), text("op voorraad"))
    add(text("Totaal"), TableCell(), euros(150.1))
    add(TableCell(numbercolumnsrepeated="1024"), numberrowsrepeated="1048000")
    document.spreadsheet.addElement(table)
    document.save(str(path))
    return path


TEILE_CSV = (
    "Teileliste Kübelwagen;;;;;;\r\n"
    "Stand: 14.03.2026;;;;;;\r\n"
    ";;;;;;\r\n"
    "Pos.;Bezeichnung;Menge;Einzelpreis;Gesamtpreis;Lieferzeit;Händler\r\n"
    "1;Bremsscheibe Ø280;2 Stk.;64,50 €;129,00 €;3 Wochen;Feder & Werk\r\n"
    "2;Stoßdämpfer;4 Stk.;1.120,00 €;4.480,00 €;10 Werktage;Lindhafen Technik\r\n"
    "3;Federsatz;1 Satz;auf Anfrage;;?;Lindhafen Technik\r\n"
    "4;Dichtung;10;0,85 €;8,50 €;ab Lager;Feder & Werk\r\n"
    ";Summe;;;4.617,50 €;;\r\n"
    ";zzgl. MwSt 19 %;;;877,33 €;;\r\n"
    ";Versandkosten;;;12,90 €;;\r\n"
).encode("cp1252")

PIECES_TSV = (
    "Désignation\tQté\tPrix unitaire HT\tDélai\tFournisseur\tVu le\n"
    "Étrier avant\t2\t118,00 €\t2 à 3 semaines\tAtelier du Pré\t03/04/2026\n"
    "Durite tressée\t1 jeu\t1 062,50 €\t1 mois\tAtelier du Pré\t25/04/2026\n"
    "Sous-total\t\t1 298,50 €\t\t\t\n"
).encode("utf-16")

PIEZAS_CSV = (
    "Pieza,Referencia,Cant.,Precio ud.,Proveedor,Estado,Notas\n"
    'Radiador,RD-7,1,"285,00 €",Taller del Río,pedido,\n'
    'Manguito,MG-2,2,"18,50 €",Taller del Río,recibido,"rojo, largo"\n'
    'Abrazadera,AB-25,6,"0,85 €",Ferretería Norte,pendiente,\n'
).encode()

US_CSV = (
    b"Part Number,Description,Qty,Unit Cost,Ext. Cost,Vendor,Lead Time,Date Checked,Status,Weight (lbs)\n"
    b"TB-100,Throttle body,1,$412.00,$412.00,Prairie Lantern,2-3 wks,3/14/2026,on order,6.5\n"
    b'GK-22,Gasket set,2,"$1,034.50","$2,069.00",Prairie Lantern,10 days,4/2/2026,to buy,1.2\n'
    b"HS-9,Hose,3,$8.25,$24.75,Corner Shed,,4/3/2026,have,0.4\n"
    b",,,,,,,,,\n"
    b',TOTAL,,,"$2,505.75",,,,,\n'
)

MARKDOWN = """# Van build

Some words about the build.

## Brakes

| Part | Qty | Price | Shop |
|------|----:|------:|------|
| **Disc** front | 2 | £64.50 | [Saltmere Stores](https://saltmere.example/disc) |
| Pad set | 1 | £47 | Saltmere Stores |
| Total | | £176 | |

## Heating

| What | How many | Cost each | Lead time |
|---|---|---|---|
| Heater 2 kW | 1 | 120-150 GBP | 3 weeks |
| Duct 60 mm | 2 m | £6.10 | |
""".encode()

SWISS_CSV = (
    "Artikel;Anzahl;Preis CHF;Händler\n"
    "Getriebe überholt;1;4'250.00;Bergwerk Antriebe\n"
    "Kupplung;1;1’180.50;Bergwerk Antriebe\n"
    "Schraube M10;24;0.95;Eisenladen\n"
).encode()

WIDE_JAPANESE_CSV = (
    "Part,Qty,Price,Note\n\u200fבלם קדמי\u202c,２,￥１２,５００,front\n".replace("￥１２,５００", '"￥１２,５００"')
    + 'ブレーキパッド,１,"￥８,０００",\n'
    + "Hose \u202eevil\u202c red,3,￥950,\n"
).encode()

NAMES_ONLY_TXT = b"Steering rack\nWheel bearing, front\nBrake hose\nEarth strap\n"

NAMES_AND_PRICES_CSV = b"Steering rack,389.00\nWheel bearing,24.50\nBrake hose,12.20\nEarth strap,8\n"

TOTALS_ONLY_CSV = (
    "Material;Stück;Gesamt (EUR)\nBlech 1,5 mm;3;87,00\nRohr 40x40;2;45,00\nSchweißdraht;1;31,90\n"
).encode()

ALTERNATIVES_CSV = (
    b"System,Part,Qty,Price,Currency,Supplier\n"
    b"Brakes,Disc front,2,64.50,GBP,Saltmere Stores\n"
    b"Brakes,Disc front,2,71.00,EUR,Lindhafen Technik\n"
    b"Cooling,Bolt M8,4,0.40,GBP,Saltmere Stores\n"
    b"Brakes,Bolt M8,8,0.40,GBP,Saltmere Stores\n"
)

FORUM_TEXT = (
    b"Item | Quantity | Price | Comments\n"
    b"4x4 badge | 1 | 12.00 EUR | rear door\n"
    b'Bolts, 3/8" UNC | 20 | 0.35 EUR | \n'
    b"Seat belts | 1 pr | 118.00 EUR | black\n"
    b"Wheel nuts | set of 4 | 22 EUR | \n"
)

BULLETS_CSV = b"Qty,Part\n2 off,Rod end\n4x,Bush\nas req'd,Grease\n1 pr,Lamp\n"

PRICES_BY_SHOP_CSV = "Part,Qty,Saltmere price,Lindhafen price\nDisc,2,£64.50,€71\nPad,1,£47,\nHose,3,,€9\n".encode()

DASHES_CSV = "Onderdeel;Aantal;Prijs\nSchijf;2;€ 64,-\nBlok;1;€ 1.250,-\nSlang;3;€ 12,50\n".encode()

SMALL_ADS_CSV = (
    'Part,Price\nDisc,£45 + £12 p&p\nPad,45 GBP (was 60)\nHose,~£30\nArm,"£1,200 ono"\nRack,2 x £15\nBush,£4.50ea\n'
).encode()

NUMBERED_CSV = b"1. Disc,64.50\n2. Pad,47.00\n3. Hose,12.20\n"

PAGES_CSV = b"Part,Qty,Price\nDisc,2,64.50\nPage 2,,\nPart,Qty,Price\nPad,1,47\n"


def _saved(path: Path, rows: list[list[Any]]) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    for row in rows:
        sheet.append(row)
    book.save(path)
    return path


def quotation_xlsx(path: Path) -> Path:
    """A supplier's quotation: who and when above the table, goods and tax summed below it."""
    return _saved(
        path,
        [
            ["QUOTATION"],
            ["Supplier:", "Saltmere Stores"],
            ["Date:", date(2026, 3, 14)],
            [],
            ["Line", "Code", "Description", "Qty", "Unit £", "Line £"],
            [1, "FD-1", "Front disc", 2, 64.5, 129],
            [2, "PS-1", "Pad set", 1, 47, 47],
            [None, None, None, None, "Goods", 176],
            [None, None, None, None, "VAT 20%", 35.2],
            [None, None, None, None, "Total", 211.2],
        ],
    )


def headings_with_sums_xlsx(path: Path) -> Path:
    """Headings that carry the sum of the rows below them."""
    return _saved(
        path,
        [
            ["Part", "Qty", "Unit price", "Total"],
            ["Brakes", None, None, 176],
            ["Disc", 2, 64.5, 129],
            ["Pad", 1, 47, 47],
            ["Cab", None, None, 439],
            ["Seat", 1, 389, 389],
            ["Belt", 2, 25, 50],
            ["All", None, None, 615],
        ],
    )


def remarks_below_xlsx(path: Path) -> Path:
    """A list with a block of remarks below it, and columns without a header."""
    return _saved(
        path,
        [
            [None, "Qty", None, "Price", "Shop"],
            ["Disc", 2, "280 mm", 64.5, "A"],
            ["Pad", 1, "ceramic", 47, "B"],
            ["Hose", 3, None, 12, "A"],
            [],
            ["Notes"],
            ["Ask about returns."],
            ["Paint", "matt black"],
        ],
    )


def dated_orders_xlsx(path: Path) -> Path:
    """Boxes ticked for ordered and received, with the day of the order."""
    return _saved(
        path,
        [
            ["Part", "Qty", "Cost", "Ordered", "Received", "Discount", "Order date"],
            ["Disc", 2, 64.5, True, False, 0.1, date(2026, 2, 1)],
            ["Pad", 1, 47, True, True, 0.05, date(2026, 2, 3)],
            ["Hose", 1, 12, False, False, None, None],
        ],
    )
