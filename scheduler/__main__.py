"""``python -m scheduler`` and the ``duskwright`` command."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and exit with its code."""
    try:
        from .cli import run
    except KeyboardInterrupt:
        sys.exit(130)
    sys.exit(run())


if __name__ == "__main__":
    main()
