#!/usr/bin/env python3
"""The one command: `manage.py demo` shows Benchledger, `manage.py test` tests it."""

import os
import sys

from studio.config.environment import ROOT, prepare


def main() -> None:
    prepare(sys.argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    if sys.argv[1:2] == ["demo"]:
        # An invented school with a known passphrase stays away from a real school's data.
        os.environ.setdefault("BENCHLEDGER_VAR", str(ROOT / "var" / "demo"))
        # It can be told again at any time, so it is not backed up.
        os.environ.setdefault("BENCHLEDGER_BACKUP", "0")
        os.environ.setdefault("BENCHLEDGER_BACKUP_BEFORE_UPGRADE", "0")
    if sys.argv[1:2] == ["test"]:
        # pytest is the only runner; in a process of its own, on the tests' own settings.
        os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
        os.chdir(ROOT)
        import pytest

        # Without further words, everything but the slow tests on all cores; whichever core is
        # done first takes over some of the others' tests.
        fast = ["-n", "auto", "--dist", "worksteal", "-m", "not slow"]
        raise SystemExit(pytest.main(sys.argv[2:] or fast))
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
