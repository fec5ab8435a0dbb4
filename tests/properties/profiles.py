"""How long the property tests look.

As they stand, the same examples are tried every time, few enough for a test run of minutes. To look longer, set the
environment variable WRACKLINE_LOOK to a number: that many times as many examples, new ones every time.

    WRACKLINE_LOOK=20 .venv/bin/python -m pytest tests/properties
"""

import os

from hypothesis import HealthCheck, settings

STORED = (3, 1, 2, 0)
LOOK = int(os.environ.get("WRACKLINE_LOOK", "0"))


def examples(few: int) -> settings:
    """Settings for a test whose every example takes a second or more."""
    return settings(
        max_examples=few * max(LOOK, 1),
        derandomize=LOOK == 0,
        database=None,
        deadline=None,
        # each example is a whole programme on disk: slow by nature, and made of some hundred choices
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.large_base_example],
    )


def seeds(few: int) -> list[int]:
    """Seeds of stored journeys, and more of them when looking longer."""
    return [*STORED[:few], *range(100, 100 + few * (max(LOOK, 1) - 1))]
