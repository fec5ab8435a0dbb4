"""What the tests of suggestions share."""

import pytest

from pipeline.suggest.fit import Registered
from pipeline.suggest.lexicon import lexicon
from pipeline.suggest.propose import propose

KNOWN = Registered(protocols=["quadrats"])


@pytest.fixture(scope="module")
def words(kinds):
    """The word lists."""
    return lexicon(kinds)


@pytest.fixture(scope="module")
def proposed(kinds, words):
    """proposed(rows, name) gives the proposal for a drawn sheet: headings first."""

    def proposing(table, name="sheet.csv", registered=KNOWN):
        rows = [[c.strip() for c in line.split("|")] for line in table.strip().splitlines()]
        return propose("", name, rows, 1, rows[1:], kinds, words, registered)

    return proposing
