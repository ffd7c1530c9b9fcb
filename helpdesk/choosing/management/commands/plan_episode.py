"""Choose the cases of a show from the command line."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from helpdesk.choosing.errors import SolverError
from helpdesk.choosing.planning import Place, Proposal, Replacement
from helpdesk.choosing.reasons import Weighed
from helpdesk.choosing.selectors import get_proposal
from helpdesk.choosing.ways import list_ways, write_length
from helpdesk.episodes.models import Episode

REFUSED, USAGE = 1, 2
LONGEST_MIN = 360


class Command(BaseCommand):
    """Print the best set of cases for a slot, in order, with times and why; exit 1 if none fits."""

    help = "Choose the cases that make the best show of so many minutes, and say why."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the minutes, perhaps an episode, and the form of what is printed."""
        parser.add_argument("--minutes", required=True, help="length of the whole slot")
        parser.add_argument(
            "--episode", type=int, help="whose fixed parts, rules and wishes count; else the usual"
        )
        parser.add_argument("--json", action="store_true", help="one JSON object instead of lines")

    def handle(self, *args: Any, **options: Any) -> None:
        """Choose and print."""
        slot_s = _read_slot_s(options["minutes"])
        episode = None
        if options["episode"] is not None:
            episode = Episode.objects.filter(number=options["episode"]).first()
            if episode is None:
                raise CommandError(f"There is no episode {options['episode']}.", returncode=USAGE)
            if episode.is_out:
                raise CommandError(f"Episode {episode.number} is out.", returncode=USAGE)
        try:
            proposal = get_proposal(episode, slot_s=slot_s)
        except SolverError as error:
            raise CommandError(str(error), returncode=REFUSED) from error
        if options["json"]:
            self.stdout.write(json.dumps(_plain(proposal), ensure_ascii=False, indent=2))
        else:
            self._write(proposal)
        if proposal.best is None:
            raise CommandError(
                " ".join(["Nothing fits.", *_say_ways(proposal)]), returncode=REFUSED
            )

    def _write(self, proposal: Proposal) -> None:
        """Print the proposal for people."""
        if proposal.best is None:
            return
        self.stdout.write(
            f"{proposal.best.status}: worth {proposal.points:.1f} points, none can be worth more"
            f" than {proposal.bound:.1f}; {len(proposal.chosen)} cases,"
            f" {write_length(proposal.best.seconds)} of {write_length(proposal.frame.left_s)}"
        )
        self.stdout.write(
            "order: the cheapest of all orders"
            if proposal.ordered and proposal.ordered.is_exact
            else "order: parts put in one by one, moved until no single move or exchange pays"
        )
        for place in proposal.places:
            times = f"{write_length(place.in_s):>6} to {write_length(place.out_s):>6}"
            if place.part:
                self.stdout.write(f"{times}  ({place.part.kind}: {place.part.slug})")
            if place.shown:
                self.stdout.write(
                    f"{times}  case {place.shown.case.pk}: {place.shown.case.title}"
                    f" ({place.shown.points:.1f} points)"
                )
                for reason in place.shown.top_reasons:
                    self.stdout.write(f"{'':18}{reason.given:.1f}  {reason.sentence}")
            if place.displaced:
                self.stdout.write(f"{'':18}{say_displaced(place.displaced)}")
        if proposal.over_s > 0:
            self.stderr.write(
                f"Waiting for a fixed time, it ends {write_length(proposal.over_s)} over."
            )


def say_displaced(displaced: Replacement) -> str:
    """Return what a chosen case displaced, as a sentence."""
    if not displaced.is_known:
        return "There was no time to work out what it displaced."
    if displaced.points is None:
        return "Without it nothing would fit."
    coming = " and ".join(f"case {shown.case.pk}" for shown in displaced.comes_in)
    first = f"Without it {coming} would come in" if coming else "Without it nothing would come in"
    gone = " and ".join(f"case {shown.case.pk}" for shown in displaced.goes_out)
    leaving = f", {gone} would go" if gone else ""
    how = "more" if displaced.points < 0 else "less"
    return f"{first}{leaving}, for {abs(displaced.points):.1f} points {how}."


def _read_slot_s(text: str) -> int:
    """Return the slot in seconds; raises CommandError for what is no length of a show."""
    try:
        minutes = float(text)
    except ValueError:
        raise CommandError(f"“{text}” is no number of minutes.", returncode=USAGE) from None
    if not 0 < minutes <= LONGEST_MIN:  # also refuses what is not a number
        raise CommandError(
            f"A show takes more than 0 and at most {LONGEST_MIN} minutes, not {text}.",
            returncode=USAGE,
        )
    return round(minutes * 60)


def _say_ways(proposal: Proposal) -> list[str]:
    """Return what to relax, or that no rule stands in the way."""
    ways = [way.text for way in list_ways(proposal)]
    return ways or ["No case may be shown yet."]


def _plain(proposal: Proposal) -> dict[str, Any]:
    """Return the proposal as plain values; lengths and times are seconds from the start."""
    best = proposal.best
    return {
        "status": best.status if best else "nothing fits",
        "objective": proposal.points if best else None,
        "bound": proposal.bound if best else None,
        "slot_s": proposal.frame.slot_s,
        "fixed_s": proposal.frame.fixed_s,
        "cases_s": best.seconds if best else 0,
        "over_s": max(0, proposal.over_s),
        "order_is_exact": proposal.ordered.is_exact if proposal.ordered else None,
        "cases": [_plain_case(place) for place in proposal.chosen],
        "parts": [
            {
                "kind": place.part.kind,
                "title": place.part.slug,
                "in_s": place.in_s,
                "out_s": place.out_s,
            }
            for place in proposal.places
            if place.part
        ],
        "relax": [] if best else _say_ways(proposal),
        "held_back": [
            {"case": shown.case.pk, "why": list(shown.bars)} for shown in proposal.held_back
        ],
    }


def _plain_case(place: Place) -> dict[str, Any]:
    """Return a chosen case as plain values."""
    shown, displaced = place.shown, place.displaced
    if shown is None:
        raise ValueError("no case stands in this place")
    return {
        "case": shown.case.pk,
        "title": shown.case.title,
        "in_s": place.in_s,
        "out_s": place.out_s,
        "in": write_length(place.in_s),
        "out": write_length(place.out_s),
        "points": shown.points,
        "why": [_plain_reason(reason) for reason in shown.reasons],
        "displaced": displaced
        and {
            "is_known": displaced.is_known,
            "points": displaced.points,
            "comes_in": [other.case.pk for other in displaced.comes_in],
            "goes_out": [other.case.pk for other in displaced.goes_out],
            "sentence": say_displaced(displaced),
        },
    }


def _plain_reason(reason: Weighed) -> dict[str, Any]:
    return {
        "reason": reason.reason,
        "score": reason.score,
        "weight": reason.points,
        "points": reason.given,
        "sentence": reason.sentence,
    }
