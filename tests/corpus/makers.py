"""Files of the corpus that are not text: workbooks and Parquet, made the same every time."""

# ruff: noqa: DTZ001 (cells have no zone)

import datetime as dt
import io
import zipfile
from decimal import Decimal
from pathlib import Path

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
from openpyxl.styles import PatternFill
from openpyxl.utils.datetime import CALENDAR_MAC_1904

HEADINGS = ["Dive", "Site", "Date", "Outcome", "Temp"]
DAY = dt.date(2025, 4, 18)


def _sheet(book, name, rows, at=(1, 1)):
    sheet = book.create_sheet(name)
    for r, row in enumerate(rows):
        for c, value in enumerate(row):
            if value is not None:
                sheet.cell(at[0] + r, at[1] + c, value)
    return sheet


def _book(*sheets, epoch=None):
    book = openpyxl.Workbook()
    book.remove(book.active)
    if epoch:
        book.epoch = epoch
    made = [_sheet(book, *s) for s in sheets]
    return book, made


def _bytes(book):
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def dive(number, day=DAY, outcome="found", temp=12.5):
    """A row of a dive log."""
    return [f"D{number}", "CB", day, outcome, temp]


def workbook_plain():
    """Headings in the first row, typed cells."""
    return _bytes(_book(("Log", [HEADINGS, dive(1), dive(2, temp=12)]))[0])


def workbook_of_texts():
    """Days and numbers that were typed as texts, beside typed ones."""
    return _bytes(
        _book(("Log", [HEADINGS, dive(1, "18/04/2025", temp="12,5"), dive(2), dive(3, "4/18/2025", temp="12.5")]))[0]
    )


def workbook_far_from_the_corner():
    """The table begins at C5, below two title lines and blank rows."""
    book, [sheet] = _book(("Log", [HEADINGS, dive(1), [None] * 5, dive(2)], (5, 3)))
    sheet["C1"] = "Dive club"
    return _bytes(book)


def workbook_error_far_from_the_corner():
    """The same, with an error cell, a merged cell and a formula never worked out."""
    rows = [HEADINGS, dive(1, temp="#DIV/0!"), dive(2, temp="=1+1"), dive(3), dive(4)]
    book, [sheet] = _book(("Log", rows, (5, 3)))
    sheet.merge_cells("G8:G9")
    return _bytes(book)


def workbook_1904():
    """Days counted from 1904, as old machines did."""
    return _bytes(
        _book(("Log", [HEADINGS, dive(1), dive(2, dt.datetime(2025, 4, 18, 9, 30))]), epoch=CALENDAR_MAC_1904)[0]
    )


def workbook_with_errors():
    """Error cells in a number, a day, a code and a column nobody asks for."""
    rows = [
        [*HEADINGS, "Helper"],
        [*dive(1), "#REF!"],
        [*dive(2, temp="#N/A"), None],
        ["D3", "#REF!", DAY, "found", 9, None],
        ["D4", "CB", "#VALUE!", "found", 9, None],
    ]
    return _bytes(_book(("Log", rows))[0])


def workbook_never_calculated():
    """A formula that no program has worked out yet."""
    return _bytes(_book(("Log", [HEADINGS, dive(1), dive(2, temp="=10+2")]))[0])


def workbook_calculated():
    """A formula with the value that was saved beside it."""
    data = _bytes(_book(("Log", [HEADINGS, dive(1), dive(2, temp="=10+2")]))[0])
    return _patched(
        data, "xl/worksheets/sheet1.xml", b"<f>10+2</f><v></v>", b"<f>10+2</f><v>12</v>", b"<f>10+2</f><v />"
    )


def _patched(data, part, *old_new):
    """A workbook with one of its parts changed: the second text is put where one of the others stands."""
    new, olds = old_new[1], (old_new[0], *old_new[2:])
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as src, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as dst:
        for item in src.infolist():
            content = src.read(item)
            if item.filename == part:
                assert any(o in content for o in olds), content
                for old in olds:
                    content = content.replace(old, new)
            dst.writestr(zipfile.ZipInfo(item.filename), content)
    return out.getvalue()


def workbook_hidden_rows():
    """A hidden row and a hidden column are data like any other."""
    book, [sheet] = _book(("Log", [HEADINGS, dive(1), dive(2), dive(3)]))
    sheet.row_dimensions[3].hidden = True
    sheet.column_dimensions["E"].hidden = True
    return _bytes(book)


def workbook_of_three():
    """Two sheets of dives, one of notes, one blank."""
    notes = [["How to fill in this log"], ["One row a dive; times are local."], ["Ask Ana if in doubt."]]
    return _bytes(
        _book(("Spring", [HEADINGS, dive(1)]), ("Read me", notes), ("Autumn", [HEADINGS, dive(2)]), ("Sheet4", []))[0]
    )


def workbook_heading_renamed():
    """A second sheet whose day has another heading."""
    other = [["Dive", "Site", "When", "Outcome", "Temp"], dive(2)]
    return _bytes(_book(("Spring", [HEADINGS, dive(1)]), ("Autumn", other))[0])


def workbook_two_tables():
    """Sheets of the same headings, of which the mapping means one."""
    return _bytes(_book(("2025", [HEADINGS, dive(1)]), ("old 2024", [HEADINGS, dive(2)]))[0])


def workbook_hidden_sheet():
    """A hidden sheet beside the log."""
    book, sheets = _book(("Log", [HEADINGS, dive(1)]), ("Lists", [["found"], ["aborted"]]))
    sheets[1].sheet_state = "hidden"
    return _bytes(book)


def workbook_merged_headings():
    """Headings over two rows, those of one row merged downwards."""
    rows = [["Dive", "Site", "Date", "Seen", None], [None, None, None, "Outcome", "Temp"], dive(1)]
    book, [sheet] = _book(("Log", rows))
    for at in ("A1:A2", "B1:B2", "C1:C2", "D1:E1"):
        sheet.merge_cells(at)
    return _bytes(book)


def workbook_merged_both_ways():
    """Headings over two rows, three of them merged downwards, and below them a site and a day written once over two rows."""
    rows = [["Dive", "Site", "Date", "Seen", None], [None, None, None, "Outcome", "Temp"], dive(1), dive(2)]
    book, [sheet] = _book(("Log", rows))
    for at in ("A1:A2", "B1:B2", "C1:C2", "D1:E1", "B3:B4", "C3:C4"):
        sheet.merge_cells(at)
    return _bytes(book)


def workbook_merged_cells():
    """A site and a day written once over three rows, and a temperature too."""
    book, [sheet] = _book(("Log", [HEADINGS, dive(1), dive(2), dive(3)]))
    for at in ("B2:B4", "C2:C4", "E2:E3"):
        sheet.merge_cells(at)
    return _bytes(book)


def workbook_odd_cells():
    """Numbers as text, text with spaces, a percent, a big whole number, a time, hours over a day."""
    rows = [
        [*HEADINGS, "Remarks"],
        ["0012", " CB ", DAY, "found", "12.5", 0.45],
        [12, "CB", DAY, "found", 0.1 + 0.2, True],
        [123456789012345, "CB", DAY, "found", 1e-7, dt.time(9, 30)],
        [4.0, "CB", DAY, "found", 3, dt.timedelta(hours=30)],
    ]
    book, [sheet] = _book(("Log", rows))
    sheet["F2"].number_format = "0%"
    return _bytes(book)


FRAMES = ["Frame", "Cover", "Plants"]
PERCENT_FORMATS = {
    "0%": 0.35, "0.0%": 0.355, "0.00%": 0.07, "[Red]0%": 1, "0 %": 0, "[$-409]0.0\\ %": 0.4, "0%;-0%;0": 0.9,
    "[<=1]0%;0": 0.35,
}  # fmt: skip
PLAIN_FORMATS = {'0" %"': 35, "0\\%": 36, "[<=1]0%;0.0": 37.5, "General": 0.5, '0.0"%";0%': 38}


def workbook_percents():
    """Cells that are shown as percentages by formats of all sorts, cells that only look so, and one whose text says it."""
    formats = {**PERCENT_FORMATS, **PLAIN_FORMATS}
    rows = [FRAMES, *([n, value, None] for n, value in enumerate(formats.values(), 1)), ["text", "35%", None]]
    book, [sheet] = _book(("Log", rows))
    for row, written in enumerate(formats, 2):
        sheet.cell(row, 2).number_format = written
    return _bytes(book)


def workbook_percent_of_counts():
    """A count that is shown as a percentage, far from the corner, in cells that do not say where they stand."""
    book, [sheet] = _book(("Log", [["Frame", "Cover", "Plants"], [1, 0.355, 3], [2, 0.45, 0.12], [3, 0.5, 1]], (3, 1)))
    for at in ("B4", "B5", "B6", "C5", "C6"):
        sheet[at].number_format = "0%"
    data = _bytes(book)
    for n in (4, 5, 6):
        for column in "ABC":
            data = _patched(data, "xl/worksheets/sheet1.xml", f' r="{column}{n}"'.encode(), b"")
    return data


def workbook_coloured_and_long():
    """Rows that only carry a colour below the table are not there."""
    book, [sheet] = _book(("Log", [HEADINGS, dive(1)]))
    for row in range(3, 200):
        sheet.cell(row, 1).fill = PatternFill("solid", "FFFF00")
    return _bytes(book)


def workbook_blank():
    """Nothing in it at all."""
    return _bytes(_book(("Sheet1", []))[0])


def workbook_cut_off():
    """The end is missing."""
    return workbook_plain()[:-200]


def workbook_damaged_inside():
    """The archive is whole, a sheet in it is not XML any more."""
    return _patched(workbook_plain(), "xl/worksheets/sheet1.xml", b'<row r="3"', b'<rw r="3"')


def workbook_bomb():
    """A sheet that would unfold to 2 GB from a few kilobytes; its directory says so."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr(zipfile.ZipInfo("xl/workbook.xml"), b"<workbook/>")
        z.writestr(zipfile.ZipInfo("xl/worksheets/sheet1.xml"), b"x" * 100, zipfile.ZIP_DEFLATED)
    data = out.getvalue()
    size = (100).to_bytes(4, "little")
    last = data.rfind(b"PK\x01\x02")
    return data[:last] + data[last:].replace(size, (2 << 30).to_bytes(4, "little"))


def workbook_sparse():
    """A cell in the first place and one in the last: 17 thousand million cells between."""
    book, [sheet] = _book(("Log", [HEADINGS, dive(1)]))
    sheet.cell(1_048_576, 16_384, "far")
    return _bytes(book)


def workbook_strings():
    """Many cells that repeat one long text, which is saved once: small on the disk, huge in the memory."""
    book, _ = _book(("Log", [HEADINGS]))
    return _patched(
        _with_shared_string(_bytes(book), "x" * 30_000, 400_000),
        "xl/worksheets/sheet1.xml",
        b"<sheetData>",
        b"<sheetData>",
    )


def _with_shared_string(data, text, cells):
    rows = "".join(f'<row r="{n}"><c r="A{n}" t="s"><v>0</v></c></row>' for n in range(2, cells + 2)).encode()
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as src, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as dst:
        for item in src.infolist():
            content = src.read(item)
            if item.filename == "xl/worksheets/sheet1.xml":
                content = content.replace(b"</sheetData>", rows + b"</sheetData>")
            if item.filename == "xl/_rels/workbook.xml.rels":
                link = b'<Relationship Id="rS" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/>'
                content = content.replace(b"</Relationships>", link + b"</Relationships>")
            if item.filename == "xl/sharedStrings.xml":
                continue
            dst.writestr(zipfile.ZipInfo(item.filename), content, zipfile.ZIP_DEFLATED)
        shared = f'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>{text}</t></si></sst>'
        dst.writestr(zipfile.ZipInfo("xl/sharedStrings.xml"), shared.encode(), zipfile.ZIP_DEFLATED)
    return out.getvalue()


def workbook_many_sheets():
    """Three hundred sheets."""
    return _bytes(_book(*((f"S{n}", [["x"]]) for n in range(300)))[0])


def archive_of_tables():
    """A packed archive with a table in it is no workbook."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as z:
        z.writestr(zipfile.ZipInfo("dives.csv"), "Dive,Site\nD1,CB\n")
    return out.getvalue()


def workbook_locked():
    """What a spreadsheet program saves with a password: another sort of file, with one name in it."""
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(1016) + "EncryptedPackage".encode("utf-16-le") + bytes(992)


def workbook_binary():
    """The parts of a binary workbook."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as z:
        z.writestr(zipfile.ZipInfo("xl/workbook.bin"), b"\x83\x01\x00")
    return out.getvalue()


def workbook_in_a_circle():
    """The old workbook of this folder; the first sector of its table follows itself."""
    data = bytearray((Path(__file__).parent / "old.xls").read_bytes())
    at = (int.from_bytes(data[76:80], "little") + 1) * 512
    for n in range(128):
        data[at + 4 * n : at + 4 * n + 4] = n.to_bytes(4, "little")
    return bytes(data)


# --- OpenDocument -------------------------------------------------------------------------------------------

_ODS = """<?xml version="1.0" encoding="UTF-8"?><office:document-content
xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"
xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"><office:body><office:spreadsheet>{}
</office:spreadsheet></office:body></office:document-content>"""


def _ods(tables):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        z.writestr(zipfile.ZipInfo("mimetype"), "application/vnd.oasis.opendocument.spreadsheet")
        z.writestr(zipfile.ZipInfo("content.xml"), _ODS.format(tables))
        manifest = '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
        z.writestr(zipfile.ZipInfo("META-INF/manifest.xml"), manifest)
    return out.getvalue()


def _cell(value, more=""):
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, dt.date):
        return f'<table:table-cell office:value-type="date" office:date-value="{value.isoformat()}"{more}/>'
    if isinstance(value, float | int):
        return f'<table:table-cell office:value-type="float" office:value="{value}"{more}/>'
    return f'<table:table-cell office:value-type="string"{more}><text:p>{value}</text:p></table:table-cell>'


def _row(*cells, more=""):
    return (
        f"<table:table-row{more}>{''.join(c if str(c).startswith('<') else _cell(c) for c in cells)}</table:table-row>"
    )


def _table(name, *rows):
    return f'<table:table table:name="{name}">{"".join(rows)}</table:table>'


def ods_plain():
    """Two blank rows saved as one, typed cells, a hidden row, and the endless blank rows that such files end with."""
    return _ods(
        _table(
            "Log",
            '<table:table-row table:number-rows-repeated="2"><table:table-cell table:number-columns-repeated="9"/></table:table-row>',
            _row(*HEADINGS),
            _row(*dive(1)),
            _row(*dive(2), more=' table:visibility="collapse"'),
            '<table:table-row table:number-rows-repeated="1048000"><table:table-cell table:number-columns-repeated="1024"/></table:table-row>',
        )
    )


def ods_with_error():
    """An error cell as this sort of program saves it."""
    wrong = (
        '<table:table-cell table:formula="of:=1/0" office:value-type="string" office:string-value="" '
        'calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell>'
    )
    rows = _row("D1", "CB", DAY, "found", wrong, more=' table:number-rows-repeated="2"')
    return _ods(_table("Log", _row(*HEADINGS), rows, _row(*dive(2))))


def ods_percents():
    """Percentages as this sort of program saves them, some saved as one cell and one row, below a number that is none."""

    def shown(value, more=""):
        return f'<table:table-cell office:value-type="percentage" office:value="{value}"{more}/>'

    twice = ' table:number-rows-repeated="2"'
    return _ods(
        _table(
            "Log",
            _row("Frame", "Cover", "Plants", "Free"),
            _row(1, shown(0.35), 3, 0.5),
            _row(2, shown(0.455), 4, shown(0.5)),
            _row(3, 12, shown(0.01, ' table:number-columns-repeated="2"'), more=twice),
        )
    )


def ods_merged_site():
    """A site written once over two rows."""
    over = ' table:number-rows-spanned="2" table:number-columns-spanned="1"'
    covered = "<table:covered-table-cell/>"
    return _ods(
        _table(
            "Log",
            _row(*HEADINGS),
            _row("D1", _cell("CB", over), DAY, "found", 12),
            _row("D2", covered, DAY, "found", 13),
        )
    )


def ods_that_never_ends():
    """One bracket of the XML is gone, and the table is never closed."""
    data = io.BytesIO(ods_plain())
    out = io.BytesIO()
    with zipfile.ZipFile(data) as src, zipfile.ZipFile(out, "w") as dst:
        for name in src.namelist():
            dst.writestr(zipfile.ZipInfo(name), src.read(name).replace(b"</table:table>", b"/table:table>"))
    return out.getvalue()


def ods_that_points_before():
    """The directory says that it begins later than it does, so that all places move before the start."""
    data = bytearray(ods_plain())
    at = data.rfind(b"PK\x05\x06") + 16
    data[at : at + 4] = (int.from_bytes(data[at : at + 4], "little") + 20_000).to_bytes(4, "little")
    return bytes(data)


def ods_repeated_rows():
    """Three equal rows that are saved as one."""
    return _ods(_table("Log", _row(*HEADINGS), _row(*dive(1), more=' table:number-rows-repeated="3"')))


def ods_repeated_for_ever():
    """One filled cell repeated over every cell that a sheet can have."""
    cell = '<table:table-cell office:value-type="float" office:value="1" table:number-columns-repeated="16384"/>'
    return _ods(_table("Log", _row(*HEADINGS), _row(cell, more=' table:number-rows-repeated="20000"')))


def ods_locked():
    """The manifest says that the content is encrypted."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as z:
        z.writestr(zipfile.ZipInfo("content.xml"), bytes(range(256)))
        z.writestr(
            zipfile.ZipInfo("META-INF/manifest.xml"),
            "<manifest:file-entry><manifest:encryption-data/></manifest:file-entry>",
        )
    return out.getvalue()


def ods_of_laughs():
    """Ten entities, each ten times the one before."""
    entities = '<!ENTITY a0 "ha">' + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 11))
    data = io.BytesIO(ods_plain())
    out = io.BytesIO()
    with zipfile.ZipFile(data) as src, zipfile.ZipFile(out, "w") as dst:
        for name in src.namelist():
            content = src.read(name).decode()
            if name == "content.xml":
                content = content.replace("?><office", f"?><!DOCTYPE x [{entities}]><office").replace(
                    ">Dive<", ">&a10;<"
                )
            dst.writestr(zipfile.ZipInfo(name), content)
    return out.getvalue()


# --- Parquet ------------------------------------------------------------------------------------------------


def _parquet(table, **options):
    out = io.BytesIO()
    pq.write_table(table, out, **options)
    return out.getvalue()


def parquet_nested():
    """A dive with its place as parts of one column and its divers as a list."""
    return _parquet(
        pa.table(
            {
                "dive": pa.array([{"key": "D1", "site": "CB"}, {"key": "D2", "site": None}]),
                "happened": [DAY, DAY],
                "outcome": pa.array(["found", "aborted"]).dictionary_encode(),
                "divers": [["ana", "bo"], []],
            }
        )
    )


def parquet_odd_types():
    """Times in nanoseconds with a zone, decimals, text that was not declared as text, a whole number as a float."""
    return _parquet(
        pa.table(
            {
                "visit_key": pa.array([b"caf\xc3\xa9-1", b"D2"]),
                "site_key": ["CB", "CB"],
                "happened": pa.array([1744968600 * 10**9, 1744930801 * 10**9], pa.timestamp("ns", "Europe/Lisbon")),
                "outcome": ["found", "found"],
                "team": [2.0, None],
                "max_depth_m": pa.array([Decimal("8.50"), None], pa.decimal128(9, 2)),
            }
        )
    )


def parquet_same_names():
    """Two columns of one name: only whoever made it knows which is meant."""
    names = ["visit_key", "site_key", "happened", "outcome", "outcome"]
    return _parquet(pa.Table.from_arrays([pa.array([v]) for v in ("D1", "CB", DAY, "found", "aborted")], names=names))


def parquet_no_rows():
    """Columns and not a single row."""
    return _parquet(pa.table({"visit_key": pa.array([], pa.string()), "site_key": pa.array([], pa.string())}))


def parquet_cut_off():
    """The end is missing, where a Parquet file says what is in it."""
    return parquet_nested()[:-20]


def wide_text():
    """A heading line of twenty thousand columns."""
    return (",".join(f"c{n}" for n in range(20_000)) + "\n" + ",".join("1" * 20_000) + "\n").encode()


def one_endless_line():
    """Five million characters without a line end."""
    return b"Dive,Site\n" + b"x" * 5_000_000


def one_endless_cell():
    """A quoted cell of two million characters."""
    return b'Dive,Site\nD1,"' + b"y\n" * 1_000_000 + b'"\n'
