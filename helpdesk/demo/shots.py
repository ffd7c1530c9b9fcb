"""Which pages are photographed for the documents and for a look after a change."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from django.core.exceptions import ObjectDoesNotExist
from django.urls import reverse
from PIL import Image

from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, CaseState
from helpdesk.cases.services import issue_link
from helpdesk.diagnosis.models import SecondLook
from helpdesk.episodes.models import Episode, EpisodeState, SegmentKind
from helpdesk.followup.links import ANY, make_token
from helpdesk.outbox.models import OutgoingMail

VISITOR, REVIEWER, PRODUCER, ADMIN = "", "imke", "wren", "odalys"
WIDTHS = (390, 1280)
README_SHOTS = (
    ("report", 390),
    ("tracking", 390),
    ("queue", 1280),
    ("case", 1280),
    ("run_sheet", 1280),
)
README_HEIGHT = 1500  # pixels of a long page that are shown in the documents
README_BYTES = 200_000
PALETTES = (256, 128, 64, 32)


class NoDemoError(Exception):
    """The desk holds no demo to photograph."""


@dataclass(frozen=True)
class Shot:
    """One page: its name, its address, who looks at it, and a button pressed first."""

    name: str
    address: str
    who: str = VISITOR
    press: str = ""
    wait_for: str = ""


def list_shots() -> list[Shot]:
    """Return every page worth a look, with real addresses of the demo.

    Raises NoDemoError when the demo is not loaded.
    """
    try:
        return [*_visitor_shots(), *_desk_shots()]
    except ObjectDoesNotExist as error:
        raise NoDemoError("Load the demo first: python manage.py demo --no-serve") from error


def _visitor_shots() -> list[Shot]:
    asked = Case.objects.filter(state=CaseState.ASKED, photos__isnull=False).earliest("pk")
    answered = Case.objects.filter(state=CaseState.ANSWERED, photos__isnull=False).earliest("pk")
    rook = _rook()
    published = Answer.objects.filter(published_at__isnull=False).latest("published_at")
    token = issue_link(answered)
    return [
        Shot("report", reverse("intake:report")),
        Shot("report_refused", reverse("intake:report"), press="p.sending button"),
        Shot("tracking", reverse("intake:track", args=[issue_link(rook)])),
        Shot("tracking_asked", reverse("intake:track", args=[issue_link(asked)])),
        Shot("tracking_answered", reverse("intake:track", args=[token])),
        Shot("tell_outcome", reverse("followup:tell", args=[make_token(answered.pk, "worked")])),
        Shot("tell_any", reverse("followup:tell", args=[make_token(answered.pk, ANY)])),
        Shot("consent", reverse("intake:consent", args=[token])),
        Shot("erase", reverse("intake:erase", args=[token])),
        Shot("erased", reverse("intake:erased")),
        Shot("new_link", reverse("intake:new_link")),
        Shot("link_sent", reverse("intake:link_sent")),
        Shot("library", reverse("answers:library")),
        Shot("published", reverse("answers:published", args=[published.pk])),
        Shot("help", reverse("help_public")),
        Shot("privacy", reverse("privacy")),
        Shot("login", reverse("accounts:login")),
        Shot("missing", "/no-such-page"),
        Shot("tracking_missing", reverse("intake:track", args=["no-such-token"])),
    ]


def _desk_shots() -> list[Shot]:
    rook = _rook()
    draft = Answer.objects.filter(sent_at__isnull=True).earliest("pk")
    closed = Case.objects.filter(state=CaseState.CLOSED, appearances__isnull=False).earliest("pk")
    making = Episode.objects.filter(state=EpisodeState.MAKING).latest("number")
    out = Episode.objects.filter(state=EpisodeState.OUT).latest("number")
    part = making.segments.filter(kind=SegmentKind.CASE).first() or making.segments.earliest("pk")
    letter = OutgoingMail.objects.latest("pk")
    wished = SecondLook.objects.exclude(asked_by__username=REVIEWER).latest("asked_at")
    sheet = [making.number]
    found = reverse("search:search") + "?words=corners+curl"
    return [
        Shot("queue", reverse("review:queue"), REVIEWER),
        Shot("case", rook.get_absolute_url(), REVIEWER),
        Shot("case_producer", rook.get_absolute_url(), PRODUCER),
        Shot("case_closed", closed.get_absolute_url(), REVIEWER),
        Shot("case_draft", draft.case.get_absolute_url(), REVIEWER),
        Shot("answer", reverse("answers:panel", args=[draft.case_id]), REVIEWER),
        Shot("answer_sent", reverse("answers:panel", args=[closed.pk]), REVIEWER),
        Shot("follow_ups", reverse("followup:due"), REVIEWER),
        Shot("week", reverse("week:week"), REVIEWER),
        Shot("second_looks", reverse("agreement:second_looks"), REVIEWER),
        Shot("second_look", reverse("agreement:second_look", args=[wished.case_id]), REVIEWER),
        Shot("agreement", reverse("agreement:agreement"), REVIEWER),
        Shot("search", found, REVIEWER),
        Shot("search_empty", reverse("search:search") + "?words=quxbury", REVIEWER),
        Shot("episodes", reverse("episodes:episodes"), PRODUCER),
        Shot("episode_form", reverse("episodes:new_episode"), PRODUCER),
        Shot("run_sheet", reverse("episodes:run_sheet", args=sheet), PRODUCER),
        Shot("run_sheet_out", reverse("episodes:run_sheet", args=[out.number]), PRODUCER),
        Shot("paper", reverse("episodes:print_sheet", args=sheet), PRODUCER),
        Shot("part", reverse("episodes:edit_part", args=[making.number, part.pk]), PRODUCER),
        Shot("mark_out", reverse("episodes:mark_out", args=sheet), PRODUCER),
        Shot("learning", reverse("learning:learning"), ADMIN),
        Shot("revision", reverse("learning:revision", args=[1]), ADMIN),
        Shot("revision_compare", reverse("learning:compare"), ADMIN),
        Shot("revision_switch", reverse("learning:switch", args=[1]), ADMIN),
        Shot("outbox", reverse("outbox:outbox"), ADMIN),
        Shot("letter", reverse("outbox:letter", args=[letter.pk]), ADMIN),
        Shot("library_desk", reverse("answers:library"), REVIEWER),
        Shot("settings", reverse("accounts:own_settings"), REVIEWER),
        Shot("help_desk", reverse("help_desk"), REVIEWER),
        Shot("refused", reverse("outbox:outbox"), REVIEWER),
    ]


def _rook() -> Case:
    """Return the case the demo opens with, or the newest one."""
    return Case.objects.filter(reports__submission_key="demo:rook").first() or Case.objects.latest(
        "pk"
    )


def save_small(picture: bytes, path: Path) -> int:
    """Write a screenshot with as many colours as fit into the limit; return its bytes."""
    image: Image.Image = Image.open(BytesIO(picture)).convert("RGB")
    image = image.crop((0, 0, image.width, min(image.height, README_HEIGHT)))
    for colors in PALETTES:
        out = BytesIO()
        # The octree keeps the few pixels of a warm accent, which a median cut would lose.
        small = image.quantize(colors, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
        small.save(out, "PNG", optimize=True)
        if out.tell() <= README_BYTES:
            break
    path.write_bytes(out.getvalue())
    return out.tell()


def pick(shots: Sequence[Shot], wanted: Callable[[str], bool]) -> list[Shot]:
    """Return the shots whose names are wanted."""
    return [shot for shot in shots if wanted(shot.name)]
