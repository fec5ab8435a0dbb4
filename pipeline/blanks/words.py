"""The language of blank sheets."""

from functools import cache
from pathlib import Path

from pipeline.tongue import LANGUAGES, Tongue, texts

__all__ = ["FOLDER", "LANGUAGES", "words"]

FOLDER = Path(__file__).parent / "words"


@cache
def words(language: str) -> Tongue:
    """The words of a language; BadUsage when there are none of it."""
    return Tongue(language, texts(language, FOLDER))
