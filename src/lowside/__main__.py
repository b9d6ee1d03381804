"""`python -m lowside` is the `lowside` command."""

import sys

from lowside.cli import main

sys.exit(main())
