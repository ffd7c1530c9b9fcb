"""The engine's door: the names it promises, and nothing it must not touch."""

import subprocess
import sys
from pathlib import Path

import triage

ROOT = Path(__file__).parents[2]


def test_all_is_sorted_and_true() -> None:
    """Every promised name is there, once, in order."""
    names = triage.__all__

    assert sorted(names, key=lambda name: (name[0].islower(), name)) == list(names)
    assert len(set(names)) == len(names)
    assert all(hasattr(triage, name) for name in names)


def test_every_public_name_is_promised() -> None:
    """What can be imported from the door, modules aside, is in __all__."""
    public = {
        name
        for name, value in vars(triage).items()
        if not name.startswith("_")
        and not hasattr(value, "__path__")
        and type(value).__name__ != "module"
    }

    assert public == set(triage.__all__)


def test_engine_imports_no_web_framework() -> None:
    """The engine stands alone: importing it loads neither Django nor the desk."""
    code = "import sys, triage.__main__; print(sorted(set(sys.modules) & {'django', 'helpdesk'}))"

    done = subprocess.run(  # noqa: S603  our own command
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )

    assert done.stdout == "[]\n"
