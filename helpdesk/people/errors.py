"""What may go wrong with people."""

from helpdesk.core.errors import WrongStateError


class NotMergeableError(WrongStateError):
    """Two people cannot be made one, or a merge cannot be undone, as things stand."""


class LastContactError(WrongStateError):
    """A person's only address cannot be split off: nothing would be left of them."""
