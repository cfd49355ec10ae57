#!/usr/bin/env python3
"""Command line of the site. `python3 manage.py demo` on a bare machine is enough to see it.

This file keeps to syntax that old Pythons read, so that they can be told what is missing.
"""

import os
import sys

STARTERS = ("demo", "serve")


def prepare() -> None:
    """Make sure of the right Python, the packages and the signing key; may start this script again inside .venv."""
    if sys.version_info < (3, 11):
        sys.exit("Python 3.11 or newer is needed; this is %d.%d (%s)." % (sys.version_info[:2] + (sys.executable,)))
    from studio import bootstrap

    command = sys.argv[1] if len(sys.argv) > 1 else ""
    if command == "demo":
        os.environ.setdefault("TOPFORM_DATA", str(bootstrap.ROOT / "data" / "demo"))
    try:
        if not bootstrap.in_venv() and not os.environ.get("TOPFORM_NO_VENV"):
            bootstrap.ensure_venv(bootstrap.SITE_LOCK)
            bootstrap.reenter(bootstrap.ROOT / "manage.py", sys.argv[1:])
        if command in STARTERS:
            bootstrap.ensure_venv_is_current()
            bootstrap.make_folder(bootstrap.data_dir())
        if command != "collectstatic":  # in an image it runs under another account than the site
            bootstrap.keep_private(bootstrap.data_dir())
        bootstrap.ensure_secret_key(bootstrap.data_dir())
    except bootstrap.Stop as stop:
        sys.exit(str(stop))


def main() -> None:
    prepare()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    from django.core.management import execute_from_command_line

    from studio.env import SettingError

    try:
        execute_from_command_line(sys.argv)
    except SettingError as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
