"""The demo's accounts and the password they share, which is made for each desk."""

import secrets
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import Group

from helpdesk.accounts.models import User
from helpdesk.demo.data import DemoPerson


def demo_password() -> str:
    """Return this desk's demo password, made once and kept beside its data."""
    path = Path(settings.DATA_DIR) / "demo-password"
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("layer-by-layer-" + secrets.token_hex(3), encoding="ascii")
        path.chmod(0o600)
    return path.read_text(encoding="ascii").strip()


def make_person(person: DemoPerson) -> User:
    """Make an account of the demo unless it is there."""
    user, is_new = User.objects.get_or_create(
        username=person.username,
        defaults={
            "first_name": person.first_name,
            "last_name": person.last_name,
            "spoken_name": person.spoken_name,
            "is_staff": person.role == "admin",
        },
    )
    if is_new:
        user.set_password(demo_password())
        user.save()
    user.groups.add(Group.objects.get(name=person.role))
    return user
