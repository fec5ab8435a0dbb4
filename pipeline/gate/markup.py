"""XML from strangers: read without network, document type, outside entities or more bytes than we hold."""

from typing import Any

from lxml import etree

MOST_XML = 32 << 20


class NotMarkup(Exception):
    """The text is no XML that we read; says why."""


def parse(data: bytes) -> Any:
    """The root element of an XML document; NotMarkup when it is none, or declares a document type."""
    if len(data) > MOST_XML:
        raise NotMarkup(f"it is {len(data) >> 20:,} MB big, and at most {MOST_XML >> 20} MB are read")
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False, remove_comments=True, remove_pis=True
    )
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as e:
        raise NotMarkup(str(e)) from None
    if root.getroottree().docinfo.doctype:
        raise NotMarkup(
            "it declares a document type, which could name files and entities outside; neither file needs one"
        )
    return root


def name_of(element: Any) -> str:
    """An element's name without its namespace."""
    return str(etree.QName(element).localname)


def namespace_of(element: Any) -> str:
    """An element's namespace, "" without one."""
    return etree.QName(element).namespace or ""


def text_of(element: Any) -> str:
    """All text in an element, blanks joined; "" of None."""
    return "" if element is None else " ".join("".join(element.itertext()).split())
