"""What is proposed for one sheet, as a value that questions and answers can change."""

from dataclasses import dataclass, field
from typing import Any

from pipeline.suggest.write import Path, Question


@dataclass
class Proposal:
    """What is proposed for one sheet: its TOML as a tree, why, and the questions.

    fed: heading -> the kinds and columns of ours that it feeds; left: headings that feed nothing.
    """

    sheet_name: str
    header_row: int
    header: tuple[str, ...]
    language: str
    tree: dict[str, Any]
    notes: dict[Path, str] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    fed: dict[str, list[tuple[str, str]]] = field(default_factory=dict)

    @property
    def kinds(self) -> list[str]:
        """The kinds it feeds."""
        return [p["kind"] for p in self.parts()]

    def parts(self) -> list[dict[str, Any]]:
        """The tables of its parts."""
        parts: list[dict[str, Any]] = self.tree.get("part", [self.tree])
        return parts
