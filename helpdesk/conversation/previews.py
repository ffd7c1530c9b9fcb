"""How a text looks in each channel: cut to its messages, without mark-up where none is shown."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.answers.letters import make_letter, normalise
from helpdesk.answers.pieces import cut_letter
from helpdesk.cases.models import Channel
from helpdesk.outbox.composing import Block, split_blocks


@dataclass(frozen=True)
class ChannelRule:
    """What a channel takes: the longest message in characters (None: any), marks or none."""

    channel: Channel
    limit: int | None
    shows_marks: bool


# Low enough for the services in common use (common practice, no source; from memory).
RULES: Sequence[ChannelRule] = (
    ChannelRule(Channel.MAIL, None, shows_marks=False),
    ChannelRule(Channel.CHAT, 2000, shows_marks=True),
    ChannelRule(Channel.DIRECT, 1000, shows_marks=False),
    ChannelRule(Channel.SOCIAL, 500, shows_marks=False),
    ChannelRule(Channel.PERSON, None, shows_marks=False),
)
BY_CHANNEL = {rule.channel: rule for rule in RULES}
# Marks people type from habit: strong, emphasis, code, headings, links.
_PAIRED = re.compile(r"(?<![\w*_`])(\*\*|__|\*|_|`)(?=\S)([^*_`\n]{1,500})(?<=\S)\1(?![\w*_`])")
_HEADING = re.compile(r"^#{1,6} +", re.MULTILINE)
_LINK = re.compile(r"\[([^\]\[\n]{1,300})\]\((https?://[^\s()]{1,500})\)")


@dataclass(frozen=True)
class Preview:
    """A text in one channel: its messages, and HTML blocks where the channel shows HTML."""

    rule: ChannelRule
    texts: Sequence[str]
    blocks: Sequence[Block] = ()

    @property
    def characters(self) -> int:
        """Return the length of all messages together."""
        return sum(len(text) for text in self.texts)


def without_marks(text: str) -> str:
    """Return a text in which the marks of emphasis, headings and links are words alone."""
    plain = _LINK.sub(r"\1: \2", text)
    return _PAIRED.sub(r"\2", _HEADING.sub("", plain))


def fit(text: str, channel: str) -> str:
    """Return a text as it is written into a channel, not yet cut."""
    rule = BY_CHANNEL.get(Channel(channel)) if channel in Channel.values else None
    plain = text if rule and rule.shows_marks else without_marks(text)
    return normalise(plain)


def preview(text: str) -> list[Preview]:
    """Return a text in every channel."""
    return [_preview(text, rule) for rule in RULES]


def _preview(text: str, rule: ChannelRule) -> Preview:
    plain = fit(text, rule.channel)
    if rule.limit:
        return Preview(rule, cut_letter(make_letter(plain, ()), rule.limit).texts)
    blocks = split_blocks(plain) if rule.channel == Channel.MAIL else ()
    return Preview(rule, (plain,), blocks)
