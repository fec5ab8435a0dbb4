"""pandera as the models use it, with polars alone: of whatever else is installed it would load pandas, Spark and more, for a second; so would pyarrow.

Everything of ours takes pandera from here, so that nothing loads it in another way first.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.abc import MetaPathFinder
from threading import get_ident

import pyarrow

# The opt-in backend of pandera 0.35 loses row numbers (tests/stages/test_shape.py holds us to that).
os.environ["PANDERA_USE_NARWHALS_BACKEND"] = "False"


class _NotInstalled(MetaPathFinder):
    """Says of these modules, to the thread that made it, that they are not installed."""

    def __init__(self, names: tuple[str, ...]) -> None:
        self.names, self.thread = names, get_ident()

    def find_spec(self, name: str, path: object = None, target: object = None) -> None:
        if name in self.names and get_ident() == self.thread:
            raise ModuleNotFoundError(f"No module named '{name}'", name=name)


@contextmanager
def _without(*names: str) -> Iterator[None]:
    """These modules are not found while the block runs, unless they are loaded already. Afterwards they are there again."""
    finder = _NotInstalled(names)
    sys.meta_path.insert(0, finder)
    try:
        yield
    finally:
        sys.meta_path.remove(finder)


with _without("pandas", "pyspark", "hypothesis"):
    # A model's checks are copies of what is registered as it is made: what polars answers to must be known before.
    import pandera.backends.polars.builtin_checks  # noqa: F401 - for what it registers
    import pandera.polars as pa
    from pandera.errors import SchemaErrors
    from pandera.polars import PolarsData

    # The first time that pyarrow is given a list it asks for pandas, and never again.
    pyarrow.array([])

__all__ = ["PolarsData", "SchemaErrors", "pa"]
