#!/usr/bin/env python3
"""Run the project's commands: see `manage.py help`."""

from __future__ import annotations

import os
import sys

# These two serve the site on this machine alone, over plain HTTP. Everything else,
# a real deployment first of all, gets the secure settings.
LOCAL_COMMANDS = {"demo", "runserver"}


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    if len(sys.argv) > 1 and sys.argv[1] in LOCAL_COMMANDS:
        os.environ.setdefault("LEDGER_PLAIN_HTTP", "1")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
