"""The forms and texts of the answer panel, as views and templates need them."""

from typing import Any

from django.conf import settings

from helpdesk.answers.advice import raised_dangers
from helpdesk.answers.cautions import read_cautions
from helpdesk.answers.forms import DraftForm, PublishForm
from helpdesk.answers.letters import Letter, make_letter
from helpdesk.answers.models import Answer
from helpdesk.answers.publishing import suggest_body
from helpdesk.answers.services import read_letter
from helpdesk.cases.models import Case, Channel
from helpdesk.outbox.models import LINK_MARK
from helpdesk.photos.models import PhotoState

LINK_WORDS = "(the address of the person’s private page)"


def make_draft_form(answer: Answer, data: Any = None) -> DraftForm:
    """Return the form of a draft, empty-handed or with what was posted."""
    return DraftForm(
        data,
        cautions=read_cautions(answer.cautions),
        raised=raised_dangers(answer.case),
        initial={
            "answer": answer.pk,
            "version": answer.version,
            "body": answer.body,
            "follow_up_days": settings.FOLLOW_UP_DAYS,
            "length_limit": answer.length_limit,
        },
    )


def make_publish_form(answer: Answer, data: Any = None) -> PublishForm:
    """Return the form of the public version of a sent answer."""
    case = answer.case
    photos = list(case.photos.filter(state=PhotoState.READY)) if case.may_show_in_public else []
    chosen = {row["photo"]: row["alt"] for row in answer.published_photos}
    initial: dict[str, Any] = {
        "title": answer.published_title or case.title,
        "body": answer.published_body or suggest_body(answer),
    }
    for photo in photos:
        initial[f"show_{photo.pk}"] = photo.pk in chosen
        initial[f"alt_{photo.pk}"] = chosen.get(photo.pk, photo.alt_text)
    return PublishForm(data, photos=photos, initial=initial)


def channel_of(case: Case) -> str:
    """Return the channel an answer to this case goes by unless a reviewer chooses another."""
    if case.email and case.reply_channel == Channel.MAIL:
        return Channel.MAIL
    return case.reply_channel if case.reply_channel != Channel.MAIL else case.channel


def preview_letter(answer: Answer, actor: Any) -> Letter:
    """Return a draft as its reader will see it."""
    return _with_link_words(read_letter(answer, actor, via=channel_of(answer.case)))


def sent_letter(answer: Answer) -> Letter:
    """Return a sent answer as its reader saw it, without the closing."""
    return _with_link_words(read_letter(answer))


def public_letter(answer: Answer) -> Letter:
    """Return a published answer: its own text, and the cautions in the desk's own words.

    The reviewer's wording may speak to the person by name, so it is not used here.
    """
    cautions = [c for c in read_cautions(answer.cautions) if not c.left_out]
    plain = [type(c)(id=c.id, text=c.text, is_danger=c.is_danger) for c in cautions]
    return make_letter(answer.published_body, plain)


def _with_link_words(letter: Letter) -> Letter:
    """Return a letter that says what stands in place of the private address."""
    closing = tuple(part.replace(LINK_MARK, LINK_WORDS) for part in letter.closing)
    return Letter(letter.dangers, letter.paragraphs, letter.cautions, closing)
