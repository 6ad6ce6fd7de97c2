"""Prepares what the app needs on a fresh machine, with nothing but Python's standard library.

`manage.py` calls `prepare()` before Django is touched: it makes the project's own virtual
environment, installs the locked requirements there (hashes checked), remembers them by a stamp
and starts itself again inside it. A second start costs a fraction of a second.

Environment: `BENCHLEDGER_PREPARE=0` leaves everything alone (containers, packagers).
"""

from __future__ import annotations

import ctypes.util
import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HOME = ROOT / ".venv"
RUN_REQUIREMENTS = ROOT / "requirements.txt"
TEST_REQUIREMENTS = ROOT / ".requirements" / "dev.txt"
DEBIAN_PACKAGES = (
    "python3-venv",
    "libpango-1.0-0",
    "libpangoft2-1.0-0",
    "libharfbuzz-subset0",
    "fonts-dejavu-core",
)
PDF_LIBRARIES = ("pango-1.0", "pangoft2-1.0", "harfbuzz-subset")
DEVELOPERS_COMMANDS = frozenset({"test", "check_house", "translations"})
LEAST, BEYOND = (3, 11), (3, 14)


def prepare(arguments: list[str]) -> None:
    """Make sure this process runs in a complete environment; may replace the process.

    `arguments` is `sys.argv`. Exits with status 2 and one clear sentence when the machine
    lacks something that only its owner can install.
    """
    if os.environ.get("BENCHLEDGER_PREPARE", "1") == "0":
        return
    if not LEAST <= sys.version_info[:2] < BEYOND:
        _give_up(
            f"Benchledger runs on Python 3.11 to 3.13; this is {sys.version.split()[0]}. "
            "Start manage.py with one of those."
        )
    command = arguments[1] if len(arguments) > 1 else ""
    if command in {"demo", "test"}:
        _install_system_packages()
    if _in_somebody_elses_environment():
        return
    wanted = TEST_REQUIREMENTS if command in DEVELOPERS_COMMANDS else RUN_REQUIREMENTS
    python = _python_of(HOME)
    if not python.exists():
        _make_environment()
    if not _has(wanted):
        _install(python, wanted)
    if Path(sys.prefix).resolve() != HOME.resolve():
        _start_again(python, arguments)


def missing_pdf_libraries() -> str:
    """A sentence that says what PDF printing lacks on this machine, or an empty string."""
    if all(ctypes.util.find_library(name) for name in PDF_LIBRARIES):
        return ""
    if sys.platform == "darwin":
        return "PDF printing needs Pango: install it with 'brew install pango'."
    if sys.platform == "win32":
        return (
            "PDF printing needs Pango: install MSYS2, run 'pacman -S mingw-w64-x86_64-pango' in "
            "it and add its mingw64\\bin folder to PATH."
        )
    return (
        "PDF printing needs Pango: on Debian or Ubuntu run "
        f"'sudo apt-get install {' '.join(DEBIAN_PACKAGES[1:])}'."
    )


def _in_somebody_elses_environment() -> bool:
    """A contributor's own virtual environment that has Django is used as it is."""
    own = Path(sys.prefix).resolve() == HOME.resolve()
    if own or sys.prefix == sys.base_prefix:
        return False
    from importlib.util import find_spec

    return find_spec("django") is not None


def _install_system_packages() -> None:
    """As root on Debian, install the few packages that are missing; say so first."""
    lacks_venv = HOME.exists() is False and not _venv_works()
    if not lacks_venv and not missing_pdf_libraries():
        return
    apt = shutil.which("apt-get")
    if apt is None or not hasattr(os, "geteuid") or os.geteuid() != 0:
        return
    print(f"Installing what PDF printing needs: {' '.join(DEBIAN_PACKAGES)}", flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for step in (["update", "-qq"], ["install", "-y", "-qq", *DEBIAN_PACKAGES]):
        done = subprocess.run(
            [apt, *step], env=quiet, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL
        )
        if done.returncode:
            return  # the sentences below name what is still missing


def _venv_works() -> bool:
    from importlib.util import find_spec

    return find_spec("venv") is not None and find_spec("ensurepip") is not None


def _make_environment() -> None:
    if not _venv_works():
        _give_up(
            "Python's venv module is incomplete here: on Debian or Ubuntu run "
            f"'sudo apt-get install {' '.join(DEBIAN_PACKAGES)}', then start again."
        )
    print(f"Making the project's own environment in {HOME.name}/ (once)", flush=True)
    if subprocess.run([sys.executable, "-m", "venv", str(HOME)]).returncode:
        shutil.rmtree(HOME, ignore_errors=True)
        _give_up("The environment could not be made; the lines above say why.")


def _install(python: Path, wanted: Path) -> None:
    print("Installing the locked requirements (once, and whenever they change)", flush=True)
    pip = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    done = subprocess.run(
        [*pip, "--no-deps", "--require-hashes", "-r", str(wanted)], stdin=subprocess.DEVNULL
    )
    if done.returncode:
        _give_up(
            "The requirements could not be installed; the lines above say why. With the network "
            "back, start again: what is there already is kept."
        )
    _stamp(wanted).write_text(_hash(wanted), encoding="ascii")
    if wanted == TEST_REQUIREMENTS:  # it holds everything that running needs, too
        _stamp(RUN_REQUIREMENTS).write_text(_hash(RUN_REQUIREMENTS), encoding="ascii")


def _has(wanted: Path) -> bool:
    stamp = _stamp(wanted)
    return stamp.exists() and stamp.read_text(encoding="ascii") == _hash(wanted)


def _stamp(wanted: Path) -> Path:
    return HOME / f"{wanted.stem}.installed"


def _hash(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


def _python_of(home: Path) -> Path:
    return home / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")


def _start_again(python: Path, arguments: list[str]) -> None:
    command = [str(python), *arguments]
    if sys.platform == "win32":  # exec there returns to the prompt before the child has ended
        raise SystemExit(subprocess.run(command).returncode)
    sys.stdout.flush()
    os.execv(str(python), command)


def _give_up(sentence: str) -> None:
    print(sentence, file=sys.stderr)
    raise SystemExit(2)
