"""Turns of speech by which a talk show moves from one thing to the next.

Each family is a pattern over words in small letters without apostrophes, parted by single spaces.
They are written from how such talk goes in general, wide on purpose; what each is worth is learned
[judgement: desk, 2026-11].
"""

import re
from typing import Final

_THING = (
    r"(?:one|up|case|prints?|question|e?mail|letter|message|patient|item|thing|person|picture|"
    r"photo|photograph|guest|failure|problem|part|object|victim|contestant|entry|submission|box|"
    r"bag|piece|subject|mystery|job|fail|model|exhibit|viewer|listener|story)"
)
_ORDER = r"(?:first|second|third|fourth|fifth|sixth|last|final|other|number \w+)"
_SAYS = (
    r"(?:writes|wrote|asks|asked|reports|reported|emailed|emails|messaged|tells us|told us|"
    r"has written|got in touch|reached out|sent|sends|brought|brings|submitted|posted)"
)

OPENING: Final = {
    "next": rf"(?:(?:our|the|my|your|very) |^)?next {_THING}\b|up next\b|next in\b|next on the\b|"
    r"next we (?:have|ve|got)|next is\b|next comes\b|whats next|who(?:s| is) next|next then",
    "move": r"moving (?:on|along|right|swiftly|over)|move (?:on|along|over|to)\b|"
    r"(?:lets|let us|well|shall we|we can|we should|gonna|going to|ill) "
    r"(?:move|jump|turn|skip|switch|press|crack|carry|hop|go) (?:on|over|to|into|along|right|ahead)"
    r"|onwards?\b|on to (?:the|our|a|something|number|case|another)|onto (?:the|our|a)\b|"
    r"change (?:of )?(?:pace|gear|subject|topic|tack)|switch(?:ing)? gears|time for (?:the|"
    r"our|a|an)"
    r"|where were we|anyway moving|keep going|now for\b|and now\b",
    "count": rf"another (?:{_THING}|fun|good|great|interesting|nice|classic)\b|one more {_THING}?|"
    rf"(?:the |our |my )?{_ORDER} {_THING}\b|first (?:of all|off)|number "
    r"(?:one|two|three|four|five|six|seven|eight|nine|ten|\d+)\b|last but not|"
    r"case (?:number )?(?:one|two|three|four|five|six|seven|eight|nine|ten|\d+)\b|"
    r"(?:got|have) (?:one|two|three|a couple|a few) more|this next\b|something (?:completely )?"
    r"(?:different|else)",
    "source": r"(?:this|that|it|which|one|print|and) (?:one )?(?:is|was|comes|came|s|just came|has "
    r"come|arrived) (?:in |to us |over |all the way |also |actually )*(?:from|by)\b|"
    r"sent (?:in |to us |us |over |this |me )*(?:by|from)\b|(?:submitted|posted|handed|brought|"
    r"written|reported|shared) (?:in |to us |over )*(?:by|from)\b|courtesy of|"
    r"(?:comes|came|coming) (?:in |to us |over |all the way )*(?:from|in)\b|"
    r"(?:got|have|had|received|getting) (?:a|an|this|another|one|some) "
    r"(?:\w+ ){0,2}(?:from|by)\b|(?:one|this|thats|its|print) from [a-z]+ (?:in|who|and|with|at|on)"
    r"\b|by a (?:user|viewer|listener|member|person|gentleman|lady)|someone (?:called|named)|"
    r"(?:called|named|goes by) \w+ (?:and|who|has|is|from)",
    "says": rf"\b(?!i |we |you |who |and )\w+ {_SAYS}\b|(?:subject line|dear \w+|"
    r"hi (?:guys|everyone|team|folks|all|there|both)|hello (?:there|team|guys|both)|quote|"
    r"the (?:message|mail|email|letter|note|post|caption|description|story) (?:says|reads|goes|is))"
    r"|(?:he|she|they|it|message) (?:says|say|writes|write|wrote|reads)\b|\bwho says\b|"
    r"(?:wants to know|is asking|asks us|is wondering|would like to know|is puzzled|is stuck|"
    r"needs (?:our )?help|is having|has been having|had (?:a|some) (?:problem|trouble|issue))",
    "show": r"\bhere (?:is|we have|we ve|weve|we are|s|are|you can|comes|we go)\b|heres\b|"
    r"(?:lets|let us|let me|well|ill) (?:have a |take a |just |go )*(?:look|see|show|check|start|"
    r"begin|pull|bring|open|put)\b|take a look|have a look|look at (?:this|that|these|what)|"
    r"(?:this|what) (?:is|we have|weve got|you see|were looking) (?:a |an |at |here )|"
    r"(?:weve|we have|ive|i have) (?:got )?(?:here |a |an |this |some )|check this out|"
    r"on (?:the|your|our|my) (?:screen|table|bench|desk)|in front of (?:me|us)|in my hands?|"
    r"holding (?:up )?(?:a|this)|pull(?:ing)? up|bring(?:ing)? up|wheel",
    "link": r"speaking of|talking of|that (?:brings|leads|takes|moves) (?:us|me)|which (?:brings|"
    r"leads|takes) (?:us|me)|brings us|leads us|from \w+ to \w+|meanwhile|staying with|sticking "
    r"with|same (?:sort|kind) of|on (?:a|the) (?:similar|related|different|other)|"
    r"over (?:to|in) \w+"
    r"|not unlike|in the same|while were on|if you thought|remember (?:when|the)",
    "strong": r"\b(?:all right|alright|right then|okay so|ok so|okay next|anyway|anyhow|so anyway|"
    r"okay then|right so|good so|okay now|right okay|okay right|righto|very good|well then|"
    r"now then|okay lets|right lets|so next|okay good|okay great|cool so|okay cool|lovely)\b",
    "weak": r"\b(?:so|now|well|okay|ok|right|and|good|great|cool|um|uh)\b",
}
"""What stands at the start of a new part."""

CLOSING: Final = {
    "wish": r"hope (?:that|this|it|we|you|she|he|they)\w* (?:helps?|works?|helped|gets|get|does|"
    r"solves?)|hopefully (?:that|this|it)|good luck|best of luck|fingers crossed|let (?:us|"
    r"me) know|"
    r"keep us (?:posted|updated)|(?:tell|show|send) us (?:how|what|if|the|whether)|report back|"
    r"write back|come back to us|happy printing|wed love to (?:hear|see|know)|get back to us|"
    r"curious (?:to|how|if)|interested to (?:hear|see|know)",
    "thank": r"thanks? (?:you )?(?:so much |very much |a lot )?(?:for (?:sending|writing|sharing|"
    r"that|the|this|your|bringing|submitting|being)|again|\w+$)|thank you \w+|thanks \w+|"
    r"appreciate (?:it|you|that)|well done|nice (?:one|work|catch|find)|great (?:one|question|find|"
    r"catch|print|case)|good (?:one|question|find|catch|case)",
    "settle": r"(?:that|it|this) (?:should|will|ll|would|ought to|oughta) (?:do|fix|sort|solve|be|"
    r"help|cure|get|clear|take care)|thatll|give (?:that|it|this) a (?:try|go|shot|whirl)|"
    r"try (?:that|it|those|this)\b|(?:thats|that is|theres) (?:that|it|my|our|the|your|what)|"
    r"there you (?:go|have|are)|case closed|problem solved|mystery solved|job done|sorted|"
    r"(?:start|begin) (?:with|there)|see (?:if|how|what|whether) (?:that|it|happens)|"
    r"(?:so|and) that(?:s| is| was)|bottom line|long story short|in short|to sum|my (?:bet|money|"
    r"guess|vote|verdict)|and youre (?:done|good|set|fine|away)|good to go|be fine|"
    r"next time\b|from (?:now|there)|anything (?:to add|else)|that covers|enough (?:about|of|on)",
    "agree": r"\b(?:yeah|yep|yes|exactly|absolutely|agreed|totally|indeed|right|okay|sure|mhm|true|"
    r"cool|nice|great|perfect|excellent|lovely|brilliant)\b",
}
"""What stands at the end of the part before."""

KINDLY: Final = {
    "intro": r"\bwelcome\b|hello (?:everyone|everybody|and|again|to|folks)|hi everyone|good "
    r"(?:evening|morning|afternoon)|youre (?:watching|listening|with)|my name is|im \w+ and|"
    r"joining (?:us|me)|with me (?:is|as|today|tonight)|(?:today|tonight|this week|this evening|"
    r"this episode) (?:on|we|were|in|its|well|youll)|in (?:today|this|tonight)s? (?:show|episode|"
    r"week|programme|stream)|coming up|later (?:on|in)|how are you|whats up|lets get (?:started|"
    r"going|into|stuck)|first time (?:here|watching|listening)|we (?:look at|fix|take) (?:your|"
    r"failed|broken)|where we\b|show where|stick around|are we live|on air|episode (?:number )?\w+",
    "notice": r"announcement|\bnotice\b|remind(?:er|ers)?\b|a (?:quick |short )?(?:word|note|plug) "
    r"(?:about|on|before|of|from|for)|opening (?:hours|times)|(?:is|are|be|were) (?:open|"
    r"closed|shut)"
    r" (?:on|from|for|until|all|this|next)|sign up|signing up|book(?:ing)? (?:a|your|is|for|at)|"
    r"volunteer|recall|\bbatch(?:es)?\b|lot numbers?|manufacturer|the maker|makers? (?:has|have|"
    r"says|replied|told|of the)|heads up|correction|correct something|we (?:got|said) (?:that|it|"
    r"something)|i (?:got|said) (?:that|it|something) wrong|thanks to (?:our|everyone who|all)|"
    r"supporters?|\bmembers?\b|membership|donat|diary|calendar|housekeeping|\bnews\b|workshop|"
    r"library|course\b|class(?:es)?\b|evening (?:class|course|session)|open day|swap|"
    r"pause (?:the|for)|break (?:for|from)|before (?:we|i) (?:go on|carry on|continue|move|get|do|"
    r"forget|look|dive)|public service|replace(?:ment)? (?:them|it|free|your)|refund|return it|"
    r"check your (?:spool|box|label|stock|shelf|plug)|affected|statement|safety",
    "outro": r"thats (?:all|it|us|your lot|about all) (?:for|from|we|done|today|the)|"
    r"(?:before|until) we (?:go|leave|finish|wrap|sign|meet|see)|see you (?:all )?(?:next|in|then|"
    r"soon|later|there|on|again)|(?:until|till|same time) next|next (?:week|thursday|friday|monday|"
    r"tuesday|wednesday|saturday|sunday|month|episode|show|stream)|thanks? (?:you )?(?:\w+ ){0,3}"
    r"(?:for (?:watching|listening|joining|being (?:here|with)|tuning|coming|hanging|your company)|"
    r"to (?:everyone|everybody|all of you))|good ?(?:bye|night)|\bbye\b|take care|farewell|"
    r"subscribe|send (?:us|in|me|them|your) (?:your|in|a|pictures|them|prints)|"
    r"keep (?:sending|them "
    r"coming|those|printing)|(?:our|the) (?:address|mail|form|link|web)|out of time|"
    r"wrap (?:up|this|"
    r"things|it)|wraps|end of (?:the|our|this|todays) (?:show|hour|episode|stream|programme)|"
    r"running out of|time (?:is|s) up|all we have|all the time|all weve got|sign(?:ing)? off|"
    r"(?:if you|you) (?:have|ve got|want) (?:a|your|to send) (?:\w+ ){0,3}(?:print|failure|us|show)"
    r"|get (?:your|a) print|on the show|happy printing",
}
"""What is said in each kind of part that is no case."""

_FIRST_PERSON = """
i my me mine im ive id myself we our weve
"""
FIRST_PERSON: Final = frozenset(_FIRST_PERSON.split())
_ADVICE = """
you your youre youll youve should try check make sure would could need turn lower raise increase
decrease reduce slow clean dry tighten calibrate recommend suggest probably replace swap adjust
drop bump start add use want maybe fix slicer setting settings
"""
ADVICE: Final = frozenset(_ADVICE.split())
_TELLING = """
was were had did came started stopped began happened kept went said says tried ran left printed
printing noticed bought got found failed looked woke opened pulled his her he she they their
keeps using about hours percent halfway overnight yesterday
"""
TELLING: Final = frozenset(_TELLING.split())


def compile_families(families: dict[str, str]) -> dict[str, re.Pattern[str]]:
    """Return the patterns of some families, ready for searching."""
    return {name: re.compile(pattern) for name, pattern in families.items()}
