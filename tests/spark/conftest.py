"""The drawn programmes of tests/properties are used here too."""

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent.parent / "properties"))
