"""Whom a partner turns to with what a letter or page asks it to tell the programme."""

from pipeline.outputs.layout import plain
from pipeline.outputs.paper import TEXT, Line
from pipeline.outputs.words import Post


def whom(_: Post, contact: str) -> Line:
    """The line that says so. contact: as programme.toml has it, "" where it says nothing."""
    if contact:
        return Line(_("To ask or tell the programme something, write to {who}.", who=plain(contact)), TEXT, gap=True)
    return Line(_("To ask or tell the programme something, turn to whoever leads it."), TEXT, gap=True)
