"""Journeys shared by the property tests."""

import pytest
from journeys import Journeys


@pytest.fixture(scope="session")
def journeys(tmp_path_factory):
    """Played programmes by seed."""
    return Journeys(tmp_path_factory.mktemp("journeys"))
