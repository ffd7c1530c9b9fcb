"""What pasted words may be: a piece of a chat with several people, or the note behind a post.

Nothing is sorted silently. A proposal is shown beside the words, and a reviewer takes it or leaves
it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from helpdesk.capture.chats import Speaker, list_speakers, read_chat
from helpdesk.capture.forms import OWN, PASSED_ON
from helpdesk.cases.models import Channel
from helpdesk.core.errors import RefusedInputError
from helpdesk.incoming.notes import Note, read_note_text

NOTE = "note"  # the choice to take what a note says
Values = Mapping[str, str]  # form fields by name


@dataclass(frozen=True)
class Proposal:
    """What was recognised in pasted words; empty when it is plain words.

    `choices` holds, by the value its button sends, the fields that a choice fills.
    """

    speakers: Sequence[Speaker] = ()
    note: Note | None = None
    refusal: str = ""
    choices: Mapping[str, Values] = field(default_factory=dict)

    def take(self, name: str) -> Values:
        """Return the fields a choice fills, none for a choice there is not."""
        return self.choices.get(name, {})


def propose(text: str) -> Proposal:
    """Return what a pasted text may be."""
    if text.lstrip().startswith("{"):
        return _propose_note(text)
    speakers = list_speakers(read_chat(text))
    choices: dict[str, Values] = {}
    for place, speaker in enumerate(speakers):
        handle = {"handle": speaker.name}
        choices[f"words-{place}"] = {**handle, "words": speaker.words}
        choices[f"person-{place}"] = handle
    return Proposal(speakers=speakers, choices=choices)


def _propose_note(text: str) -> Proposal:
    """Return what the note behind a post says, or why it cannot be read."""
    try:
        note = read_note_text(text)
    except RefusedInputError as error:
        return Proposal(refusal=str(error))
    return Proposal(note=note, choices={NOTE: _fields_of(note)})


def _fields_of(note: Note) -> Values:
    """Return the form's fields for a post; who passes it on is the finder, its author the owner."""
    sender = note.passed_on_by or note.author
    author = note.author if note.passed_on_by else None
    return {
        "words": note.bare_words,
        "link": note.link,
        "channel": Channel.SOCIAL.value,
        "handle": sender.handle if sender else "",
        "handle_where": (urlsplit(sender.id).hostname or "") if sender else "",
        "person_name": sender.name if sender else "",
        "whose": PASSED_ON if note.passed_on_by else OWN,
        "owner_name": (author.name or author.handle) if author else "",
    }
