"""How likely a pair is, in words."""

from django import template

from helpdesk.duplicates.evidence import say_probability

register = template.Library()
register.filter("likelihood", say_probability)
