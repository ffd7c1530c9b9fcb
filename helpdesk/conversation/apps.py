"""Conversation: what was said on every channel, and recurring texts."""

from django.apps import AppConfig


class ConversationConfig(AppConfig):
    """Conversation: what was said on every channel, and recurring texts."""

    name = "helpdesk.conversation"
    verbose_name = "Conversation"
