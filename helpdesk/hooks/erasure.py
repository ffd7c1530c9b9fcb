"""What of the hooks goes when a person is forgotten: words, conversations, deliveries."""

from django.db.models import QuerySet

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.hooks.models import (
    HookConversation,
    HookDelivery,
    HookMessage,
    HookPicture,
    MessageState,
)


@eraser("hooks")
def erase_part(case: Case) -> None:
    """Remove everything but the hashes by which a message is known again."""
    names = list(HookConversation.objects.filter(case=case).values_list("source", "name"))
    for (
        source,
        name,
    ) in names:  # replies that still wait belong to the conversation, not yet to the case
        _empty(HookMessage.objects.filter(source=source, conversation=name))
    _empty(HookMessage.objects.filter(case=case))
    HookPicture.objects.filter(case=case).delete()
    HookDelivery.objects.filter(case=case).delete()
    HookConversation.objects.filter(case=case).delete()


def _empty(messages: "QuerySet[HookMessage]") -> None:
    """Take the words out of messages; one that still waits has nothing left to do."""
    messages.filter(state=MessageState.WAITING).update(state=MessageState.REFUSED)
    messages.update(body="", conversation="", why="")
