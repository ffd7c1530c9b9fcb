"""What to relax when nothing fits, in words."""

from dataclasses import dataclass

from helpdesk.choosing.models import WishKind
from helpdesk.choosing.planning import Proposal, Showable


@dataclass(frozen=True)
class Way:
    """A rule to relax: the sentence, and the case whose wish would change, with the new wish."""

    text: str
    shown: Showable | None = None
    wish: str = ""


def list_ways(proposal: Proposal) -> list[Way]:
    """Return what to relax so that something fits, by how much each."""
    found = proposal.relaxation
    if found is None:
        return []
    rules, ways = proposal.rules, []
    if found.over_s:
        ways.append(
            Way(
                f"Give it {write_length(found.over_s)} more: a slot of"
                f" {write_length(proposal.frame.slot_s + found.over_s)}, or shorter fixed parts."
            )
        )
    if found.fewer_families:
        kept = rules.least_families - found.fewer_families
        ways.append(
            Way(f"Ask for fewer families of faults: {kept} instead of {rules.least_families}.")
        )
    if found.more_per_person:
        allowed = rules.most_per_person + found.more_per_person
        ways.append(Way(f"Allow {allowed} cases of one person instead of {rules.most_per_person}."))
    ways += [_drop(proposal.showables[number]) for number in found.drop_must]
    ways += [
        Way(
            f"Let “{proposal.showables[number].case.title}” in after all.",
            shown=proposal.showables[number],
        )
        for number in found.allow_never
    ]
    return ways


def _drop(shown: Showable) -> Way:
    """Return the way to do without a must-have, with what keeps it from being shown."""
    title = shown.case.title
    if shown.is_on_sheet:
        text = f"Take “{title}” off the sheet"
    else:
        text = f"Do without the must-have “{title}”"
    why = f": {shown.bars[0][0].lower()}{shown.bars[0][1:]}" if shown.bars else "."
    return Way(text + why, shown=shown, wish=WishKind.NEVER if shown.is_on_sheet else "")


def write_length(seconds: int) -> str:
    """Return a length as minutes and seconds."""
    return f"{seconds // 60}:{seconds % 60:02}"
