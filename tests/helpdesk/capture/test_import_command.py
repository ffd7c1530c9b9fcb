"""`manage.py import_reports`: what it prints, makes and exits with."""

import io
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from helpdesk.accounts.models import User
from helpdesk.capture.models import TableImport
from helpdesk.cases.models import Case

pytestmark = pytest.mark.django_db


def run(path: Path, *options: str) -> str:
    """Run the command and return what it prints."""
    out = io.StringIO()
    call_command("import_reports", str(path), *options, stdout=out, stderr=out)
    return out.getvalue()


@pytest.fixture
def path(tmp_path: Path, desk_admin: User) -> Path:
    """Return a table on this machine."""
    path = tmp_path / "old.csv"
    path.write_text("What,Who\nThe corners lift.,Ansa\nA seam shows.,Teo\n", encoding="utf-8")
    return path


def test_dry_run_makes_nothing(path: Path) -> None:
    assert "2 new, 0 known already, 0 refused" in run(path, "--dry-run")
    assert not Case.objects.exists()
    assert not TableImport.objects.exists()


def test_rows_are_brought_in_once(path: Path) -> None:
    assert "2 made" in run(path, "--map", "Who=owner_name")
    assert "0 made, 2 known" in run(path, "--map", "Who=owner_name")
    assert set(Case.objects.values_list("owner_name", flat=True)) == {"Ansa", "Teo"}


def test_refused_rows_are_written_and_told_by_the_exit_code(path: Path) -> None:
    path.write_text("What,Date\nIt lifts.,2025-03-04\nIt lifts.,soon\n", encoding="utf-8")
    target = path.with_name("refused.csv")

    with pytest.raises(CommandError, match="1 rows were refused") as raised:
        run(path, "--refused", str(target))

    assert raised.value.returncode == 1
    assert "soon" in target.read_text(encoding="utf-8-sig")
    assert Case.objects.count() == 1


@pytest.mark.parametrize(
    "options", [["--map", "Nix=story"], ["--map", "What=nix"], ["--by", "nobody"]]
)
def test_usage_is_told_by_the_exit_code(path: Path, options: list[str]) -> None:
    with pytest.raises(CommandError) as raised:
        run(path, *options)

    assert raised.value.returncode == 2
    assert not TableImport.objects.exists()


def test_missing_file_is_told(path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read"):
        run(path.with_name("nix.csv"))
