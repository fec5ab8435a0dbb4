"""The files of a Darwin Core Archive: tables as text, meta.xml, and a zip whose bytes depend on nothing else."""

import io
import shutil
import zipfile
from collections.abc import Iterable, Mapping
from typing import IO

import pyarrow as pa
import pyarrow.csv as pc
from lxml import etree

from pipeline.archive.columns import CORE, EXTENSIONS, Table

META, EML = "meta.xml", "eml.xml"
_TEXT = "http://rs.tdwg.org/dwc/text/"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
CHUNK = 1 << 22
_NO_TIME = (1980, 1, 1, 0, 0, 0)  # the first a zip can tell


def write_csv(rows: Iterable[pa.RecordBatch], schema: pa.Schema, to: IO[bytes]) -> int:
    """Rows as CSV (RFC 4180, line feeds, UTF-8): headings first, a blank cell for null. Cells hold no line breaks. Gives how many rows."""
    n = 0
    with pc.CSVWriter(to, schema, write_options=pc.WriteOptions(quoting_style="needed", eol="\n")) as text:
        for batch in rows:
            text.write_batch(batch)
            n += len(batch)
    return n


def meta_xml() -> bytes:
    """The descriptor: which file is what, and which column which term (Darwin Core text guide, 2023-09-13)."""
    root = etree.Element(f"{{{_TEXT}}}archive", nsmap={None: _TEXT, "xsi": _XSI})
    root.set(f"{{{_XSI}}}schemaLocation", f"{_TEXT} {_TEXT}tdwg_dwc_text.xsd")
    root.set("metadata", EML)
    for table in (CORE, *EXTENSIONS):
        root.append(_described(table, "core" if table is CORE else "extension"))
    return _bytes(root)


def _described(table: Table, what: str) -> etree._Element:
    made = etree.Element(
        f"{{{_TEXT}}}{what}", encoding="UTF-8", fieldsTerminatedBy=",", linesTerminatedBy="\\n", fieldsEnclosedBy='"',
        ignoreHeaderLines="1", rowType=table.row_type,
    )  # fmt: skip
    files = etree.SubElement(made, f"{{{_TEXT}}}files")
    etree.SubElement(files, f"{{{_TEXT}}}location").text = table.file
    etree.SubElement(made, f"{{{_TEXT}}}{'id' if what == 'core' else 'coreid'}", index="0")
    for n, column in enumerate(table.columns):
        if column.term:
            etree.SubElement(made, f"{{{_TEXT}}}field", index=str(n), term=column.term)
    return made


def write_zip(files: Mapping[str, IO[bytes]], to: IO[bytes]) -> None:
    """The files as one zip, in order of their names, with no time and no owner in it: same in, same bytes."""
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as z:
        for name in sorted(files):
            told = zipfile.ZipInfo(name, _NO_TIME)
            told.compress_type, told.create_system, told.external_attr = zipfile.ZIP_DEFLATED, 3, 0o644 << 16
            # told beforehand: else the zip would hold it behind the file
            told.file_size = files[name].seek(0, io.SEEK_END)
            told._compresslevel = 9  # type: ignore[attr-defined]  # no public way leads there but for a file held in memory
            files[name].seek(0)
            with z.open(told, "w") as packed:
                shutil.copyfileobj(files[name], packed, CHUNK)


def _bytes(root: etree._Element) -> bytes:
    made: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)
    return made
