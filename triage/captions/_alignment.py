"""A run sheet laid along the captions of its show.

Each planned part and the gap behind it are states of a semi-Markov line that only goes forward.
A part's words, against those of the whole show, speak for it, the more where it begins; the turns
of speech that open a part fix the second.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from triage.captions._cohesion import weigh_cohesion
from triage.captions._cut_model import CutModel
from triage.captions._features import ShowSigns
from triage.captions._model import KINDS, PlannedPart
from triage.captions._semi_markov import NEVER, Line, Stretch, find_best, sum_all
from triage.captions._unplanned import MOST_PLACES, sum_near
from triage.captions._words import list_stems, split_spoken
from triage.knowledge._model import Floats

# Chosen by how many planned parts were found in invented shows of the manners that learning.toml
# and trying.toml hold [judgement: desk, 2026-11]
OWN_SHARE = 0.15  # of the telling words of a part that its run sheet foretells
TOLD_SHARE = 0.3  # the same while it opens by telling what was sent in
MOST_TOLD = 150  # words that takes at most, about a minute
# What an unforetold word costs, beside the full logarithm: 0 would give a stretch that was not
# planned to a part beside it, 1 would leave out parts of which little is known
DRIFT = 0.3
SCRIPT_WEIGHT, WORDS_WEIGHT = 2.0, 1.0  # a script is spoken, the rest merely touched
SKIPPED = -6.0  # log odds of a planned part that is missing in the show
UNPLANNED = -7.0  # of a stretch that was not planned
TURN_SHARE = 1.3  # of the weight that turns of speech have without a run sheet
LENGTH_SPREAD = 0.45  # of the logarithm of real over planned length
UNKNOWN_SPREAD = 0.9  # the same where no length was planned
USUAL_S = {"intro": 60.0, "case": 180.0, "notice": 60.0, "outro": 60.0}  # where none was planned
COHESION = np.array([0.0, 0.16, 0.08, 0.0])  # what cohesion counts, by kind
CASE = KINDS.index("case")
GAP_S = 120.0  # an unplanned stretch
HINT_S = 6.0  # scale of the error of a start that somebody noted
HINT_WEIGHT = 6.0  # what a note that fits counts at most
OPENING_WORDS = 12  # of a script, looked for at the start
OPENING_WEIGHT = 6.0
SETTLE_S = 8.0  # starts within as much of each other are the same start
EVEN = 0.03  # of a probability: less makes no difference
LONGEST_FACTOR, LONGEST_GAP_S = 4.0, 900.0  # of a part beside its plan; of an unplanned stretch


def align_parts(
    signs: ShowSigns, places: NDArray[np.intp], parts: Sequence[PlannedPart], model: CutModel
) -> tuple[list[Stretch], list[int | None], Floats]:
    """Return the stretches of a show, the part each is, and how likely each start is.

    The `state` of a stretch that is no planned part is that of a case.
    """
    line = _draw(signs, places, parts, model)
    best, _ = find_best(line)
    starts = sum_all(line).starts
    stretches = _settle(best, starts, line.time_s[:-1])
    count = len(parts)
    found: list[int | None] = [s.state if s.state < count else None for s in stretches]
    named = [
        Stretch(s.first, s.end, KINDS.index(parts[s.state].kind) if s.state < count else CASE)
        for s in stretches
    ]
    return named, found, starts.sum(axis=1)


def _settle(best: Sequence[Stretch], starts: Floats, time_s: Floats) -> list[Stretch]:
    """Return the stretches of the best cut, each begun where a start is likeliest to be near.

    The best single cut need not be where most of the good ones agree.
    """
    firsts = [0]
    for stretch, after in zip(best[1:], [*best[2:], None], strict=False):
        low = firsts[-1] + 1
        high = after.first if after else len(time_s)
        likely = starts[:, stretch.state]
        near = sum_near(likely, time_s, SETTLE_S)[low:high]
        ties = near >= near.max() - EVEN
        firsts.append(low + int(np.where(ties, likely[low:high], -1.0).argmax()))
    ends = [*firsts[1:], len(time_s)]
    return [
        Stretch(first, end, stretch.state)
        for first, end, stretch in zip(firsts, ends, best, strict=True)
    ]


def _draw(
    signs: ShowSigns, places: NDArray[np.intp], parts: Sequence[PlannedPart], model: CutModel
) -> Line:
    """Return the line with a state for each part and for the gaps before and behind them."""
    count = len(parts)
    time_s = np.append(signs.start_s[places], signs.end_s)
    ends = np.append(places, len(signs.start_s))
    follow, first, last = _order(count)
    kinds = [KINDS.index(part.kind) for part in parts]
    turns = signs.boundary[places] @ (TURN_SHARE * model.boundary)
    start = np.empty((len(places), 2 * count + 1))
    start[:, :count] = turns[:, kinds] + _opening(signs, places, parts) + _hints(time_s, parts)
    start[:, count:] = turns[:, [CASE]]
    inside = np.zeros((len(time_s), 2 * count + 1))
    running = _likelihood(signs, parts, OWN_SHARE)
    inside[:, :count] = running[signs.words.first[ends]]
    start[:, :count] += _telling(signs, places, parts, running)
    is_long = len(places) > MOST_PLACES  # then the table of cohesion would fill the memory
    cohesion = None if is_long else weigh_cohesion(signs.words.stems, signs.words.first[places])
    lengths = [part.planned_s or USUAL_S[part.kind] for part in parts]
    spread = [LENGTH_SPREAD if part.planned_s else UNKNOWN_SPREAD for part in parts]
    gaps = count + 1
    return Line(
        time_s=time_s,
        start=start,
        inside=inside,
        follow=follow,
        first=first,
        last=last,
        log_length=np.log([*lengths, *[GAP_S] * gaps]),
        log_spread=np.array([*spread, *[UNKNOWN_SPREAD] * gaps]),
        longest_s=max(LONGEST_GAP_S, LONGEST_FACTOR * max(lengths)),
        cohesion=cohesion,
        cohesion_weight=np.array([*COHESION[kinds], *[COHESION[CASE]] * gaps]),
    )


def _order(count: int) -> tuple[Floats, Floats, Floats]:
    """Return what speaks for the order of states: parts, then gaps 0 to `count`.

    Gap g stands behind part g - 1. Each part that is passed over costs, each gap too.
    """
    states = 2 * count + 1
    stands = np.array([*range(1, count + 1), *range(count + 1)])  # parts used up behind each state
    is_gap = np.arange(states) >= count
    follow = np.full((states, states), NEVER)
    for row in range(states):
        for column in range(states):
            if is_gap[column] and not is_gap[row] and stands[column] >= stands[row]:
                follow[row, column] = UNPLANNED + SKIPPED * (stands[column] - stands[row])
            elif not is_gap[column] and stands[column] > stands[row]:
                follow[row, column] = SKIPPED * (stands[column] - stands[row] - 1)
    first = np.where(is_gap, UNPLANNED + SKIPPED * stands, SKIPPED * (stands - 1))
    last = SKIPPED * (count - stands).astype(float)
    return follow, first.astype(float), last


def _telling(
    signs: ShowSigns, places: NDArray[np.intp], parts: Sequence[PlannedPart], running: Floats
) -> Floats:
    """Return how much better the words behind each place fit a part that opens by telling its own.

    What was sent in is told first; the talk about it repeats less. `running` are the sums of
    `_likelihood` throughout.
    """
    spoken = signs.words
    more = _likelihood(signs, parts, TOLD_SHARE) - running
    starts = spoken.first[places]
    found = np.zeros((len(places), len(parts)))
    for column, part in enumerate(parts):
        count = min(len(split_spoken(part.words or part.script)), MOST_TOLD)
        ends = np.minimum(starts + count, len(spoken.stems))
        found[:, column] = more[ends, column] - more[starts, column]
    return found


def _likelihood(signs: ShowSigns, parts: Sequence[PlannedPart], own_share: float) -> Floats:
    """Return running sums, by word, of how much likelier the words are in each part."""
    spoken = signs.words
    models = [_expected(part) for part in parts]
    show = Counter(found for found in spoken.stems if found)
    for counts in models:
        show.update(counts.keys())
    total = sum(show.values()) or 1
    gain = np.zeros((len(spoken.stems), len(parts)))
    unforetold = DRIFT * np.log(1.0 - own_share)
    telling = np.fromiter((bool(found) for found in spoken.stems), bool, len(spoken.stems))
    at: dict[str, list[int]] = {}
    for place, found in enumerate(spoken.stems):
        if found:
            at.setdefault(found, []).append(place)
    for column, counts in enumerate(models):
        mass = sum(counts.values())
        if not mass:
            continue
        gain[telling, column] = unforetold
        for found, weight in counts.items():
            if found in at:
                ratio = (weight / mass) / (show[found] / total)
                odds = own_share / (1.0 - own_share)
                gain[at[found], column] = np.log1p(odds * ratio) + unforetold
    return np.concatenate((np.zeros((1, len(parts))), np.cumsum(gain, axis=0)))


def _expected(part: PlannedPart) -> Mapping[str, float]:
    """Return how often each word is expected in a part, in shares that need not add up."""
    counts: defaultdict[str, float] = defaultdict(float)
    for text, weight in ((part.script, SCRIPT_WEIGHT), (part.words, WORDS_WEIGHT)):
        for found, times in Counter(list_stems(text)).items():
            counts[found] += weight * np.sqrt(times)
    for found in list_stems(part.slug):
        counts[found] += WORDS_WEIGHT
    return counts


def _opening(signs: ShowSigns, places: NDArray[np.intp], parts: Sequence[PlannedPart]) -> Floats:
    """Return how well the words at each place fit the first words of each part's script."""
    spoken = signs.words
    found = np.zeros((len(places), len(parts)))
    starts = spoken.first[places]
    for column, part in enumerate(parts):
        opening = split_spoken(part.script)[:OPENING_WORDS]
        pairs = set(pairwise(opening))
        if len(pairs) < 3:  # too few words to know a script by
            continue
        hit = np.fromiter(
            (pair in pairs for pair in pairwise(spoken.words)),
            float,
            max(len(spoken.words) - 1, 0),
        )
        running = np.concatenate(([0.0], np.cumsum(hit), [hit.sum()]))
        ahead = np.minimum(starts + len(opening), len(hit))
        share = (running[ahead] - running[np.minimum(starts, len(hit))]) / len(pairs)
        found[:, column] = OPENING_WEIGHT * share
    return found


def _hints(time_s: Floats, parts: Sequence[PlannedPart]) -> Floats:
    """Return what the noted starts say; a note far off says no more than one somewhat off."""
    found = np.zeros((len(time_s) - 1, len(parts)))
    for column, part in enumerate(parts):
        if part.started_s is not None:
            distance = (time_s[:-1] - part.started_s) / HINT_S
            found[:, column] = HINT_WEIGHT / (1.0 + distance**2)
    return found
