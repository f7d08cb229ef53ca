"""`python -m viewer`: the command line."""

import sys

from .commands import main

sys.exit(main())
