"""Words that turn what is said: negation, doubt, hearsay, time, and what a trial brought.

They are written in the pattern language of the knowledge files and searched together with the
phrases of the knowledge. They belong to English, not to printing, so they stand here and not in
the knowledge folder.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from triage.reading.patterns import Target

CUE_KIND: Final = "cue"
"""Target kind of every pattern of this module."""

NOUN_NEGATION: Final[Sequence[str]] = (
    "no",
    "without",
    "zero",
    "none of",
    "nothing",
    "nor",
    "neither",
    "hardly/barely any",
    "free of/from",
    "absence of",
    "no sign/signs/trace/traces/hint of/that",
    "rather than",
    "instead of",
)

VERB_NEGATION: Final[Sequence[str]] = (
    "not/never/cannot/aint",
    "isnt/arent/wasnt/werent/doesnt/dont/didnt/hasnt/havent/hadnt/wont/wouldnt/cant/couldnt",
    "hardly/barely/scarcely",
    "no longer",
    "has/have/had stopped",
    "neither",
)

NOT_NEGATION: Final[Sequence[str]] = (
    "not/cannot/cant/couldnt/dont/doesnt/didnt .. why/how/where/cause*/reason",
    "not/isnt/wasnt/arent just/only/merely/simply",
    "not sure/certain/clear/convinced",
    "no idea*/clue/matter/doubt/wonder/luck/change*/difference/avail/effect/improvement",
    "no success/better/good/joy/use/help/expert",
    "nothing but",
    "nothing .. help*/work*/chang*/fix*/stop*/did/does/do",
    "dont/doesnt/didnt/cant/couldnt/cannot know/understand/tell/figure/decide/mind/want/like",
    "not/cant/couldnt/cannot/doesnt/didnt/dont/hasnt/havent/wont/never .. "
    "stop*/fix*/cure*/help*/solve*/prevent*/reduce*/improve*/eliminate*/avoid*/rid/shake/change*",
    "not/didnt/doesnt/hasnt work*",
    "not without",
    "not because/since/when/if/after/before/as",
    "not until",
    "not long after/before/into",
    "not the first time",
    "not .. normal/right/happy/pretty/acceptable",
    "not every/all/always",
    "never .. before/until",
    "instead of a/an/the/being/what/coming/going/getting/sticking/staying/lying/printing",
    "dont/didnt/havent/not yet",
    "not even",
    "no more/less than",
)
"""Phrases that hold a negative word without denying what follows them."""

STILL_NEGATION: Final[Sequence[str]] = ("not even a/any/one", "no more stringing/gaps/warping")

POST_NEGATION: Final[Sequence[str]] = (
    "is/are/was/were/seems/looks not/never a/an/the/my? issue*/problem*/concern*/worry/trouble",
    "isnt/arent/wasnt/werent a/an/the/my? issue*/problem*/concern*/worry/trouble",
    "isnt/arent/wasnt/werent/not/never/doesnt/didnt/hasnt .. "
    "happen*/occur*/present/visible/there/appear*/seen",
    "none/nil/zero/nope",
    "is/are/was/were out/absent",
)
"""Denials that come after what they deny."""

POST_RESOLVED: Final[Sequence[str]] = (
    "gone/disappeared/vanished/ceased",
    "went away",
    "cleared up/itself",
    "is/are/was/were all/now/also? fine/ok/okay/perfect/minimal/negligible",
    "is/are/was/were all/now/also? solved/sorted/cured/fixed",
    "no longer .. happen*/occur*/issue/problem/there",
    "has/have stopped",
    "thing of the past",
)
"""Words after a symptom that say it is over or harmless."""

RETURNED: Final[Sequence[str]] = (
    "is/are/was/were/it/came/come/comes back",
    "has/have returned/come",
    "returned/reappeared",
)
"""Words after a symptom that was said to be over."""

DISMISSAL: Final[Sequence[str]] = (
    "has/have/had/get/got/see/seen/is/are none of? these/those/them/that/it/this?",
    "i/we/it dont/doesnt/didnt/never have/get/see/has/got",
    "that/this/which is? not/isnt what i/we have/get/see/got",
    "nothing of the? sort/kind",
)
"""Words at the end of a sentence that deny what it names before."""

NOT_NOW: Final[Sequence[str]] = (
    "today/now/this/here/new .. dont/doesnt/didnt/isnt/arent/not/wont/flat/gone/none",
    "i/it/they/we dont/doesnt/didnt any? more?",
)
"""Words that set what is against an earlier time."""

CURES: Final[Sequence[str]] = (
    "cured/solved/fixed/eliminated/banished",
    "got/get/getting rid of",
)
"""The trial put right what is named next."""

ALL_WELL: Final[Sequence[str]] = (
    "nothing/no .. wrong with",
    "no issue*/problem*/trouble*/complaint*/concern* with/on/about/in",
    "happy with",
    "no fault with/in",
)
"""Praise of whatever is named next."""

HEDGE: Final[Sequence[str]] = (
    "maybe/perhaps/possibly/probably/presumably/supposedly/potentially",
    "could/must be/have/it/this/that/the",
    "might/may",
    "i? think/thinking/thought/suspect*/assum*/guess*/reckon/believe/imagine/wonder*",
    "my guess/hunch/theory/suspicion",
    "not sure/certain/convinced if/whether/it/this/that/the",
    "unsure if/whether",
    "cant/couldnt tell/say if/whether",
    "hard/difficult to tell/say",
    "or something",
    "whether",
    "i? feel like",
    "wondering if",
    "likely",
)
"""Signs that the writer is not certain."""

FACTIVE_QUESTION: Final[Sequence[str]] = (
    "why/how/what/whats/which/where",
    "any/anyone/anybody/someone/somebody",
    "help/advice/ideas/tips/suggestions/thoughts/fix*/solve*/normal/stop",
)
"""Words of questions that take what they ask about for granted."""

ADVICE: Final[Sequence[str]] = (
    "someone/somebody/people/everyone/everybody/they/folks/others/some .. "
    "say*/said/told/tell*/think*/thought/suggest*/reckon*/claim*/recommend*/mention*/blame*/swear*",
    "friend*/mate*/colleague*/neighbour*/neighbor*/brother*/sister*/dad/father/mum/mother/son .. "
    "say*/said/told/tell*/think*/thinks/suggest*/reckon*/claim*/recommend*/mention*/swear*",
    "wife/husband/partner/uncle/teacher/seller/shop/support/guy/bloke/member*/expert* .. "
    "say*/said/told/tell*/think*/suggest*/reckon*/claim*/recommend*/mention*/blame*/swear*",
    "he/she say*/said/told/think*/thinks/suggest*/reckon*",
    "forum*/internet/web/video*/guide*/article*/comment*/post*/thread*/group .. "
    "say*/said/told/suggest*/reckon*/claim*/recommend*/mention*/blame*",
    "i? was/been/got told/advised",
    "i? read/heard/saw/seen/googled .. that/it/about/online/could/might/can",
    "apparently/allegedly",
    "manual/instructions/handbook/booklet/leaflet/maker/manufacturer/guide "
    "say*/said/tell*/want*/recommend*/suggest*/advise*",
    "you lot/guys/people/all/folks? always/often/all/keep? say*/said/recommend*/suggest*/swear",
    "want*/told/tell*/ask*/urge*/advise* me/us to",
    "according to",
    "suggested/recommended/advised/blamed",
    "the advice",
)
"""Signs that the writer repeats what somebody else said."""

PAST: Final[Sequence[str]] = (
    "used to",
    "in the past",
    "previously/formerly/originally",
    "last week/month/year/summer/winter/spring/autumn",
    "week*/month*/year* ago/back",
    "back then",
    "had trouble/problems/issues .. before",
    "with/on my/the/an old/previous/former/other printer/machine/spool/nozzle/roll/hot-end",
    "once had",
)
"""Signs that a statement is about an earlier time."""

CONDITIONAL: Final[Sequence[str]] = (
    "if",
    "unless",
    "in case",
    "would",
    "should it",
    "whenever i try",
)
"""Signs that a statement holds only under a condition."""

PREVENTIVE: Final[Sequence[str]] = (
    "to/would/should/will/helps avoid/prevent/preventing",
    "against/avoid/avoiding/prevent/preventing/prevents",
    "so/such that? it/they/there doesnt/dont/wont/isnt/arent",
    "worried/afraid/scared/fear* .. of/about/that/it",
)
"""Signs that something is feared or guarded against, not seen."""

INTENT: Final[Sequence[str]] = (
    "will/ill/gonna/shall/would/should/could/might/can/may/must",
    "going to",
    "plan*/want*/need*/about/intend*/hope/hoping/supposed/ready to",
    "thinking/thought of/about",
    "considering/consider/contemplating",
    "id/would/might like/love/rather/prefer/want/need/try",
    "planning/plan on/for/a/an/my/new/another/some",
    "looking/tempted/itching/keen/hoping/meaning/meant to/at/into",
    "waiting/wait/saving for/on/until",
    "forgot/refuse/refused/unable/too lazy/scared to",
    "todo/wishlist/shopping list",
    "worried/afraid/scared to/of/about",
    "let me/us know",
    "havent/hasnt/didnt/not yet? tried/try",
    "worth",
    "how do/to/can",
    "do/does i/it",
    "before i",
    "next .. try/step/thing/will",
    "order* a/an/some/new",
    "need/needs a/an/new/some",
    "recommend*/suggest*",
)
"""Signs that a remedy is planned or asked about, not done."""

NO_CHANGE: Final[Sequence[str]] = (
    "no change*/difference/avail/effect/improvement/luck/success/better/good/joy/use/help/result*",
    "no odds/dice/cigar/joy/cure",
    "no noticeable/real/visible/big change*/difference/effect/improvement",
    "nothing change*/help*/work*/fix*/improve*/happen*/did",
    "did/does/doing nothing/nowt/zilch",
    "none .. help*/work*/change*/fix*/difference",
    "not/didnt/doesnt/hasnt/havent/never/dont/wont .. "
    "help*/work*/fix*/chang*/cure*/solve*/improve*/stop*/better/difference",
    "without success/luck/change/effect/improvement/any",
    "to no avail",
    "still/same/unchanged/identical/worse/useless/nope",
    "happen*/fail*/jam*/clog*/block*/lift*/warp*/peel*/curl*/string*/shift*/stop*/stall*/leak*/"
    "crack*/split*/skip*/slip*/grind*/click*/bad/back/problem/came/comes/returned/does/did/do "
    "it? again",
    "in vain",
    "exactly as before",
    "neither .. help*/work*",
    "but? it keeps",
)
"""The trial changed nothing."""

HELPED: Final[Sequence[str]] = (
    "help*/improve*/better/reduced/reduces/less/fewer/lessened/eased/smaller/decreased",
    "made a/some/slight/small/big? difference",
    "slight*/bit/little/somewhat/partly/partially better/improve*",
    "almost/nearly/mostly fixed/gone/cured/solved",
    "worked/works/fixed/fine/good/ok/okay/perfect/solved/cured .. "
    "for a/an/one/two/three/some/few/about",
    "worked/fixed/cured/solved .. at first/until/once/temporarily/briefly",
    "temporar*/briefly",
    "for a while/day/bit/week/time/print",
)
"""The trial helped in part or for a time."""

CURED: Final[Sequence[str]] = (
    "fixed/cured/solved/resolved/sorted it/that/this/the/everything/both/them",
    "problem/issue/trouble fixed/cured/solved/resolved/gone/sorted",
    "got rid of",
    "did the trick",
    "that did it",
    "works/work/working/prints/print/printing/perfect/fine/good/great/sorted/ok/okay now/again",
    "now .. fine/perfect/perfectly/great/ok/okay/works/sorted",
    "been fine/perfect/great/good/ok since",
    "is/are/was/been fixed/cured/solved/resolved/sorted",
    "went away",
    "went back to normal",
    "no longer/more .. problem/issue/trouble*",
    "all/totally/completely good/fine/sorted/fixed/cured",
)
"""The trial put it right."""

TRIAL: Final[Sequence[str]] = (
    "tried/trying/attempted/attempts",
    "things/stuff/steps/everything/what/all i/ive/we/weve? did/done/checked",
    "done/did/made/checked/ruled so? far/already/out",
    "already/also did/done/used/got/have/has/had",
    "have/ive/i did/done",
    "so far",
    "went/gone/been through",
    "not/didnt/doesnt/nothing/none/neither help*/work*",
)
"""Words that tell of a trial, so that a bare name of a remedy beside them was one."""

LATER: Final[Sequence[str]] = (
    "tomorrow/soon/someday/eventually",
    "next/this weekend/week/month/time/step/try",
    "on order",
    "on the/its/their way",
    "next on/up",
    "to do at/on/this/list/next/still/over",
    "on my/the list",
    "arrive/arrives/arriving/ordered/coming",
    "in the post/mail",
    "is/are/comes/come next/planned",
    "not/hasnt/havent arrived/here/come yet?",
    "to? be tried/done",
)
"""Words that put what stands beside them into the future."""

ASKS_OTHERS: Final[Sequence[str]] = (
    "do/does/did/have/are/would/could/can/should/will/is you/anyone/anybody/people/folks/everyone",
    "has/does/did/is anyone/anybody/someone/somebody",
    "what/which/whats/how .. is/are/do/does/should/would/best/right/good/better/recommended",
    "should/would/could/can/shall/must/will/do/is/are/does i/we/it/that/this/there/the/a/an",
    "is/are/would .. worth/enough/necessary/needed/better/best/safe",
    "where/who/when do/can/could/to/is/should",
    "any/anyone",
)
"""Words of questions that ask what others do or what should be done."""

_CUES: Final[Mapping[str, Sequence[str]]] = {
    "noun-negation": NOUN_NEGATION,
    "verb-negation": VERB_NEGATION,
    "not-negation": NOT_NEGATION,
    "still-negation": STILL_NEGATION,
    "post-negation": POST_NEGATION,
    "post-resolved": POST_RESOLVED,
    "returned": RETURNED,
    "dismissal": DISMISSAL,
    "not-now": NOT_NOW,
    "cures": CURES,
    "all-well": ALL_WELL,
    "hedge": HEDGE,
    "factive-question": FACTIVE_QUESTION,
    "advice": ADVICE,
    "past": PAST,
    "conditional": CONDITIONAL,
    "preventive": PREVENTIVE,
    "intent": INTENT,
    "no-change": NO_CHANGE,
    "helped": HELPED,
    "cured": CURED,
    "trial": TRIAL,
    "later": LATER,
    "asks-others": ASKS_OTHERS,
}


def cue_patterns() -> Iterator[tuple[Target, str]]:
    """Yield every cue pattern with its target; the id is the kind of cue."""
    for name, patterns in _CUES.items():
        for pattern in patterns:
            yield Target(CUE_KIND, name, ""), pattern
