"""Archives in tests: read back, and held against the standards' own schema files where they are at hand."""

import csv
import io
import os
import zipfile
from pathlib import Path

import pytest
from lxml import etree

XML = "http://www.w3.org/2001/xml.xsd"


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    """A table of an archive's zip, as texts."""
    with zipfile.ZipFile(folder / "archive.zip") as z:
        return list(csv.DictReader(io.StringIO(z.read(f"{name}.csv").decode())))


def table(folder: Path, name: str) -> list[dict[str, str]]:
    """A table of the data package beside it, as texts."""
    return list(csv.DictReader(io.StringIO((folder / "tables" / f"{name}.csv").read_text(encoding="utf-8"))))


def member(folder: Path, name: str) -> bytes:
    """A file of an archive's zip."""
    with zipfile.ZipFile(folder / "archive.zip") as z:
        return z.read(name)


def every_byte(folder: Path) -> dict[str, bytes]:
    """Everything an export wrote, unpacked: name -> bytes."""
    found = {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    with zipfile.ZipFile(folder / "archive.zip") as z:
        return found | {f"archive.zip/{n}": z.read(n) for n in z.namelist()}


def standards() -> Path:
    """Where the standards' own files lie; skips the test, saying so, where they are not at hand."""
    told = os.environ.get("WRACKLINE_STANDARDS", "")
    if not told:
        pytest.skip("WRACKLINE_STANDARDS names no folder with the standards' own schema files")
    return Path(told)


class _Saved(etree.Resolver):
    """The one schema that is fetched from the web, from where it is saved."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "dwca-text" / "xml.xsd"

    def resolve(self, url, pubid, context):
        return self.resolve_filename(str(self.path), context) if url == XML else None


def text_schema() -> etree.XMLSchema:
    """Schema of meta.xml; two imports that it never uses and that lead to the web are left out."""
    tree = etree.parse(standards() / "dwca-text" / "tdwg_dwc_text.xsd")
    for node in tree.findall("{http://www.w3.org/2001/XMLSchema}import"):
        node.getparent().remove(node)
    return etree.XMLSchema(tree)


def eml_schema(which: str) -> etree.XMLSchema:
    """Schema of EML: `eml-gbif-profile-1.3` or `eml-2.2.0`."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Saved(standards()))
    return etree.XMLSchema(etree.parse(standards() / which / "eml.xsd", parser))


def faults_of(schema: etree.XMLSchema, document: bytes) -> list[str]:
    """What a schema has against a document; nothing when it is valid."""
    schema.validate(etree.fromstring(document))
    return [f"{e.line}: {e.message}" for e in schema.error_log]
