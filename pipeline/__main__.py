"""`python -m pipeline` is `wrackline`."""

import sys

from pipeline.cli import main

sys.exit(main())
