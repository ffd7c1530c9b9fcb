"""A process of a desk of its own, for the test that a switch reaches every process.

Run as ``python -m tests.helpdesk.learning.desk_process COMMAND`` with PRINTWARD_DATA set. "watch"
answers each line it reads with the revision and the version of one run of the engine.
"""

import os
import sys

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")
django.setup()

from django.core.management import call_command  # noqa: E402 - apps have to be loaded first

from helpdesk.diagnosis.engine import EngineInput, run_engine  # noqa: E402
from helpdesk.diagnosis.models import KnowledgeRevision  # noqa: E402
from helpdesk.learning.services import make_revision, put_in_force  # noqa: E402
from tests.factories import make_user  # noqa: E402
from tests.helpdesk.learning.cases import settled  # noqa: E402

STORY = "The corners of my box curl up from the plate after an hour."


def prepare() -> None:
    """Make a desk with three settled cases and one revision, not in force."""
    call_command("migrate", verbosity=0)
    settled(make_user("imke"), 3)
    make_revision(1)


def switch(name: str) -> None:
    """Put a revision in force by its number, 0 for the expert's numbers."""
    revision = KnowledgeRevision.objects.filter(number=int(name)).first()
    put_in_force(revision, actor=make_user(f"admin-{os.getpid()}", role="admin"), why="A test")


def watch() -> None:
    """Answer every line with what the engine computes with now."""
    for _ in sys.stdin:
        result = run_engine(EngineInput(text=STORY, story_length=len(STORY), process="MEX"))
        sys.stdout.write(f"{result.revision} {result.knowledge_version}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    if sys.argv[1] == "prepare":
        prepare()
    elif sys.argv[1] == "watch":
        watch()
    else:
        switch(sys.argv[1])
