"""`python -m jointable` is the command `jointable`."""

from __future__ import annotations

import sys

from jointable.cli import main

if __name__ == "__main__":
    sys.exit(main())
