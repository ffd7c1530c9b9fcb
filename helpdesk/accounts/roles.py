"""Who may do what: roles are groups, and this table is the only place that fills them."""

from django.contrib.auth.models import Group, Permission

REVIEW_CASES = "accounts.review_cases"
PRODUCE_EPISODES = "accounts.produce_episodes"
RUN_DESK = "accounts.run_desk"

ROLES: dict[str, tuple[str, ...]] = {
    "reviewer": (REVIEW_CASES,),
    "producer": (PRODUCE_EPISODES,),
    "admin": (REVIEW_CASES, PRODUCE_EPISODES, RUN_DESK),
}


def make_roles() -> None:
    """Make the groups and give each its permissions; safe to run again."""
    for role, names in ROLES.items():
        group, _ = Group.objects.get_or_create(name=role)
        codes = [name.split(".", 1)[1] for name in names]
        group.permissions.set(
            Permission.objects.filter(content_type__app_label="accounts", codename__in=codes)
        )
