"""`duskwright serve` and `work`: their words become settings; the heavy parts come once these are sound."""

from __future__ import annotations

import argparse
import gc
import os
import sys
import threading
from collections.abc import Sequence

from .settings import ABOUT, Settings
from .sources import FILE, explained, flag_of, read_settings, variable_of


def serve_command(words: Sequence[str]) -> int:
    """Serve with the settings that command line, environment and file ask for, until asked to stop.

    Raises
    ------
    SettingsFaults
        With everything wrong with them at once.
    """
    settings = settings_of(words, "duskwright serve", "Start the service on this machine.")
    gc.disable()  # what is loaded now stays for good; once the server has started it is searched for no more
    from .app import serve

    serve(settings)
    return left(0)


def work_command(words: Sequence[str]) -> int:
    """Work on jobs with the settings that command line, environment and file ask for, until asked to stop.

    Raises
    ------
    SettingsFaults
        With everything wrong with them at once.
    """
    purpose = "Work on the jobs of the services that share this database."
    settings = settings_of(words, "duskwright work", purpose)
    from .worker import work

    work(settings)
    return left(0)


def left(code: int) -> int:
    """Return an exit code, or end with it at once where a thread would keep the process for ever.

    Asked to stop, the workflow library can leave a thread that waits for work another process will finish.
    Everything of ours is closed by now.
    """
    if any(one is not threading.main_thread() and not one.daemon for one in threading.enumerate()):
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)
    return code


def settings_of(words: Sequence[str], program: str, purpose: str) -> Settings:
    """Return the settings of a command line; `--help` explains each of them and ends."""
    parser = argparse.ArgumentParser(
        prog=program, description=purpose, allow_abbrev=False,
        epilog="The command line wins over the environment, the environment over the file. Lists are written "
               "with commas. Give a database's password by the environment: others see a command line.",
    )  # fmt: skip
    parser.add_argument(
        flag_of(FILE), metavar="FILE", help=f"TOML file of settings by their names ({variable_of(FILE)})"
    )
    for name in ABOUT:
        parser.add_argument(flag_of(name), metavar="X", help=explained(name).replace("%", "%%"))
    given = vars(parser.parse_args(words))
    return read_settings({name: text for name, text in given.items() if text is not None})
