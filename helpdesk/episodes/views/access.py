"""Who may look at episodes, and who may make them."""

from django.contrib.auth.decorators import permission_required

from helpdesk.accounts.access import needs_any
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES

may_produce = permission_required(PRODUCE_EPISODES, raise_exception=True)
may_look = needs_any(REVIEW_CASES, PRODUCE_EPISODES)
