"""The standards' own schemas, used beside our rules where a folder of them is found; some may not be packed with us.

The folder holds `dwca-text`, `eml-2.2.0`, `eml-gbif-profile-1.3` and `eml-gbif-profile-1.1`, as their makers publish them.
"""

from functools import lru_cache
from pathlib import Path
from typing import Any

from lxml import etree

from pipeline.gate.rule import Effect, Hits, Rule

_XS = "{http://www.w3.org/2001/XMLSchema}"
META_INVALID = Rule(
    "invalid by the guide's schema",
    "meta.xml as tdwg_dwc_text.xsd has it",
    Effect.REFUSES,
    Effect.REFUSES,
    "tdwg/dwc docs/text",
)
EML_INVALID = Rule(
    "invalid by EML's schema", "a document that its schema takes", Effect.FLAGS, Effect.FLAGS,
    "gbif/eml-profile, rs.gbif.org schema; that it is kept and flagged is from memory",
)  # fmt: skip
META_SCHEMA = "dwca-text/tdwg_dwc_text.xsd"
EML_SCHEMAS = {
    "https://eml.ecoinformatics.org/eml-2.2.0": ("eml-gbif-profile-1.3/eml.xsd", "eml-2.2.0/eml.xsd"),
    "eml://ecoinformatics.org/eml-2.1.1": ("eml-gbif-profile-1.1/eml.xsd",),
}


def validate(root: Any, file: str, namespace: str, standards: Path | None, hits: Hits, unchecked: list[str]) -> None:
    """Hold a parsed document against its schemas; a sentence among `unchecked` for each that is not at hand.

    namespace: "" for meta.xml, else EML's. standards: the folder, None: not given.
    """
    wanted = EML_SCHEMAS.get(namespace, ()) if namespace else (META_SCHEMA,)
    for name in wanted:
        if standards is None or not (standards / name).is_file():
            unchecked.append(f"{file} against the schema {name}: WRACKLINE_STANDARDS names no folder that holds it.")
            continue
        schema = _schema(standards / name)
        if not schema.validate(root):
            first = schema.error_log[0]
            hits.add(EML_INVALID if namespace else META_INVALID, file, f"{name}: {first.message}"[:200], first.line)


@lru_cache(maxsize=8)
def _schema(path: Path) -> Any:
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Beside(path.parent.parent / "dwca-text" / "xml.xsd"))
    tree = etree.parse(str(path), parser)
    if path.name == Path(META_SCHEMA).name:
        for imported in tree.findall(f"{_XS}import"):  # never used there, and one leads out to the network
            imported.getparent().remove(imported)
    return etree.XMLSchema(tree)


class _Beside(etree.Resolver):  # type: ignore[misc]  # lxml comes without types
    """Answers the one address that the profile imports with the copy in the folder."""

    def __init__(self, copy: Path) -> None:
        super().__init__()
        self.copy = copy

    def resolve(self, url: str | None, _: str | None, context: Any) -> Any:
        here = url and url.startswith("http") and url.endswith("/xml.xsd")
        return self.resolve_filename(str(self.copy), context) if here else None
