"""``python -m scheduler`` and the ``duskwright`` command."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and exit with its code."""
    from .cli import run

    sys.exit(run())


if __name__ == "__main__":
    main()
