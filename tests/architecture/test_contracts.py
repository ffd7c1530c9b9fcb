"""What is agreed between the parts: imports, names, migrations, settings."""

import importlib.util
import os
import re
import secrets
import subprocess
import sys
from collections.abc import Callable
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command

import triage

ROOT = Path(settings.BASE_DIR)
ENVIRONMENT_NAME = re.compile(r"\bPRINTWARD_[A-Z0-9_]+\b")


def run(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run a command of this Python in the checkout."""
    return subprocess.run(  # noqa: S603 - our own commands
        [sys.executable, *words],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )


def test_import_contracts_hold(needs: Callable[[str, bool], None]) -> None:
    """The engine stands alone, apps are layered, and calls inside an app go down."""
    needs("import-linter", importlib.util.find_spec("importlinter") is not None)

    code = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = run("-c", code)

    assert done.returncode == 0, done.stdout[-4000:]
    assert "Contracts: 5 kept, 0 broken" in done.stdout


def test_public_names_of_the_engine_are_true_and_sorted() -> None:
    """What the engine says it offers is there, once, in order."""
    assert triage.__all__ == sorted(set(triage.__all__))
    for name in triage.__all__:
        assert getattr(triage, name) is not None


def test_engine_needs_no_django() -> None:
    """Importing the engine loads neither the desk nor Django."""
    code = (
        "import sys, triage, triage.__main__; "
        "print([m for m in sys.modules if m.split('.')[0] in ('django', 'helpdesk', 'celery')])"
    )

    done = run("-c", code)

    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


@pytest.mark.django_db
def test_migrations_are_complete() -> None:
    """No model was changed without a migration."""
    out = StringIO()

    call_command("makemigrations", check=True, dry_run=True, stdout=out)

    assert "No changes detected" in out.getvalue()


def test_migrations_are_named_for_their_purpose() -> None:
    """A migration's name says what it does."""
    names = [p.stem for p in ROOT.glob("helpdesk/*/migrations/0*.py")]

    assert names
    for name in names:
        assert not re.match(r"\d{4}_(auto|alter_|initial)", name), name


def test_deployment_check_has_nothing_to_say() -> None:
    """A desk set up as the operator's page says passes Django's and our own deployment checks."""
    done = run(
        "manage.py",
        "check",
        "--deploy",
        "--fail-level",
        "WARNING",
        DJANGO_SETTINGS_MODULE="helpdesk.config.settings.prod",
        PRINTWARD_SECRET_KEY=secrets.token_urlsafe(60),
        PRINTWARD_HOSTS="desk.example",
        PRINTWARD_ADDRESS="https://desk.example",
        PRINTWARD_TRUSTED_PROXY="127.0.0.1",
    )

    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_public_desk_does_not_start_without_its_secrets() -> None:
    """No secret has a value that stands in the code."""
    done = run(
        "manage.py",
        "check",
        DJANGO_SETTINGS_MODULE="helpdesk.config.settings.prod",
        PRINTWARD_SECRET_KEY="",
    )

    assert done.returncode != 0
    assert "PRINTWARD_SECRET_KEY must be set in the environment." in done.stderr


def test_every_environment_name_is_explained() -> None:
    """The operator's page lists each name the desk reads, and none it does not."""
    read = {
        name
        for path in [*ROOT.glob("helpdesk/**/*.py"), *ROOT.glob("triage/**/*.py")]
        for name in ENVIRONMENT_NAME.findall(path.read_text(encoding="utf-8"))
    }
    operations = (ROOT / "docs/operations.md").read_text(encoding="utf-8")
    told = set(ENVIRONMENT_NAME.findall(operations))

    assert read - told == set()
    assert told - read == {"PRINTWARD_TESTS_MUST_RUN"}  # read by the tests alone


def test_only_one_module_reads_the_environment() -> None:
    """Everything the environment may change is found in one place."""
    readers = [
        str(path.relative_to(ROOT))
        for path in [*ROOT.glob("helpdesk/**/*.py"), *ROOT.glob("triage/**/*.py")]
        if re.search(r"os\.(environ\.get|environ\[|getenv)", path.read_text(encoding="utf-8"))
    ]

    assert readers == ["helpdesk/config/env.py"]
