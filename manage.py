#!/usr/bin/env python3
"""Command line of the site."""
import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from studio import bootstrap

    bootstrap.ensure_secret_key(bootstrap.data_dir())
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
