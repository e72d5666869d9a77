"""``python -m locum``: the command line, where the installed script is not on the path."""

import sys

from locum.cli import main

sys.exit(main())
