"""Words of danger in other languages: enough to ask that somebody reads a text that is not English.

Nothing else is read in these languages. A word counts only beside words that the language uses all
the time and English does not, so that a name or a colour in an English text raises nothing; and not
behind a denial, a colour or a detector ("kein Rauch", "gris humo", "détecteur de fumée").

The words are written as the reader sees them, without accents that can be taken off: "rök" is
"rok", but "røg" stays.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from triage.reading.patterns import Match, Target
from triage.reading.tokens import Document

FOREIGN_KIND: Final = "foreign"
"""Target kind of the patterns of this module; their id is the language."""

LEAST_COMMON: Final = 2
"""Different common words of a language that must stand in the text."""

BEFORE, BEHIND = 2, 1
"""Words before and behind a word of danger among which a harmless one takes it back."""


@dataclass(frozen=True, slots=True)
class Language:
    """What is known of a language.

    Parameters
    ----------
    common : frozenset of str
        Words nearly every text holds and English has not.
    harmless : frozenset of str
        Words beside a word of danger that take it back.
    dangers : tuple of str
        Patterns of `triage.reading.patterns` for fire, smoke, burning smell, shock and resin.
    """

    common: frozenset[str]
    harmless: frozenset[str]
    dangers: tuple[str, ...]


def _language(common: str, harmless: str, *dangers: str) -> Language:
    return Language(frozenset(common.split()), frozenset(harmless.split()), dangers)


LANGUAGES: Final = {
    "German": _language(
        "der das und ist ich mein meine meinem es nicht ein eine aus beim wenn mit dem den von wir"
        " hat habe was kann hilfe nach vom auf zu sehr drucker",
        "kein keine keinen keinem keiner keinerlei ohne nie nicht nichts farbe filament",
        "rauch/raucht/rauchte/geraucht/qualm/qualmt/qualmte/gequalmt/brennt/brannte/gebrannt/feuer",
        "flamme/flammen/funken/funkt/lichtbogen/verschmort*/angeschmort*/schmort/verkohlt*",
        "brandgeruch/schmorgeruch/stromschlag/kurzschluss/brand",
        "riecht/roch/stinkt/stank/geruch .. verbrannt*/angebrannt*/verschmort*/brand",
        "strom/schlag .. bekommen/gekriegt/gespurt",
        "gewischt bekommen",
        "kribbelt*",
        "harz/resin & auge/augen/haut/mund/verschluckt",
    ),
    "French": _language(
        "le les des est et je mon ma mes une dans il ca pas que qui avec pour sur ai du imprimante"
        " quand fait sont cest elle au aide jai dun dune",
        "pas sans aucun aucune jamais gris grise couleur detecteur bruleur",
        "fumee/fumees/feu/incendie/flamme/flammes/etincelle/etincelles",
        "brule/brulee/brulees/brules/brulait/crame/cramee",
        "ca/imprimante/elle fume",
        "decharge/choc/choque electrique",
        "electrocut*",
        "coup de jus",
        "picote/picotements",
        "prise/fiche/connecteur .. fondu/fondue",
        "resine & oeil/\u0153il/loeil/l\u0153il/yeux/peau/bouche",
    ),
    "Spanish": _language(
        "el los las es y una mi mis que en del por con para se esta muy cuando impresora"
        " un de al ojo ojos hay sale ayuda tengo",
        "no sin ningun ninguna nunca gris color detector",
        "humo/humea/fuego/incendio/llamas/chispa/chispas/chispazo",
        "quemado/quemada/quemando/quemo/arde/ardiendo/chamuscad*",
        "descarga electrica",
        "calambre/calambres/calambrazo",
        "dio/da corriente",
        "enchufe/conector .. derretid*",
        "resina & ojo/ojos/piel/boca",
    ),
    "Italian": _language(
        "il lo gli e una mia mio che di del della per con non quando stampante sono ho dal dalla si"
        " un molto aiuto esce",
        "non senza nessun nessuna mai grigio colore rilevatore",
        "fumo/fuma/fuoco/incendio/fiamma/fiamme/scintilla/scintille",
        "bruciato/bruciata/bruciando/brucia/bruciaticcio",
        "scossa/scosse/folgorat*",
        "spina/presa/connettore .. fus*/sciolt*",
        "resina & occhio/occhi/pelle/bocca",
    ),
    "Portuguese": _language(
        "os uma minha meu que na em com para quando impressora nao muito esta um da pela tem"
        " foi socorro ajuda eu sai do durante pegou noite olho olhos caiu",
        "nao sem nenhum nenhuma nunca cinza cor detector detetor",
        "fumo/fumaca/fumegar/fogo/incendio/chamas/faisca/faiscas/ardeu",
        "queimado/queimada/queimando/queimou/esturricad*",
        "choque/choques",
        "ficha/tomada/conector .. derretid*",
        "resina & olho/olhos/pele/boca",
    ),
    "Dutch": _language(
        "het een mijn ik niet en van uit als dat bij er met voor naar geen wordt heeft deze maar"
        " wel printer",
        "geen zonder nooit niet niets kleur",
        "rook/rookt/rookte/brandt/brandde/brandlucht/vlam/vlammen/vonk/vonken/vonkt",
        "in brand",
        "ruikt/stinkt/rook/geur .. brand/verbrand*/aangebrand",
        "verbrand*/verschroeid*/gesmolten",
        "schok/schokken/stroomstoot/tintelt/tintelingen",
        "hars/resin & oog/ogen/huid/mond",
    ),
    "Polish": _language(
        "jest sie nie na z w mi mam moja moj drukarka drukarki co od po przy czy kiedy jak pomocy"
        " to do za",
        "bez nie nigdy zaden brak czujnik kolor",
        "dym/dymi/dymu/pozar/ogien/ognia/p\u0142omien/p\u0142omienie/iskra/iskry/iskrzy",
        "pali/sp\u0142on*/spalon*/spalenizn*/zapali\u0142*/przypalon*",
        "porazenie/porazi\u0142*/kopie/kopna\u0142*",
        "wtyczka/z\u0142acze/kabel .. stopi*",
        "zywica/zywicy/zywice & oko/oku/oka/oczy/oczu/skora/skore/skorze/usta",
    ),
    "Swedish": _language(
        "det och en ett min mitt jag inte fran nar som skrivaren pa med av har ar den hjalp vid",
        "ingen inget inga utan aldrig inte farg",
        "rok/ryker/rokte/roken/brinner/brann/eld/elden/lagor/flammor/gnista/gnistor/gnistrar",
        "brandlukt",
        "luktar/lukt/stinker .. brant/brand/branda",
        "elstot/stot/stotar/elchock/kittlar/pirrar",
        "kontakten/kabeln .. smalt",
        "harts/hartset/resin & oga/ogat/ogon/ogonen/hud/huden/mun",
    ),
    "Danish": _language(
        "det og en et min mit jeg ikke fra nar som printeren pa med af har er den hj\u00e6lp ved"
        " n\u00e5r p\u00e5 kommer",
        "ingen intet uden aldrig ikke farve",
        "r\u00f8g/ryger/br\u00e6nder/br\u00e6ndte/brand/ild/flammer/flamme/gnist/gnister",
        "lugter/lugt/stinker .. br\u00e6ndt/brandt/svedet",
        "br\u00e6ndt/svedet/forkullet",
        "st\u00f8d/snurrer",
        "stikket/kablet .. smeltet",
        "resin/harpiks & \u00f8je/\u00f8jet/\u00f8jne/hud/mund",
    ),
    "Norwegian": _language(
        "det og en et min mitt jeg ikke fra nar som skriveren pa med av har er den hjelp ved"
        " kommer",
        "ingen intet uten aldri ikke farge",
        "r\u00f8yk/r\u00f8yken/ryker/brenner/brann/ild/flammer/flamme/gnist/gnister",
        "lukter/lukt/stinker .. brent/svidd",
        "brent/svidd/forkullet",
        "st\u00f8t/kiler",
        "st\u00f8pselet/kabelen .. smeltet",
        "resin/harpiks & \u00f8ye/\u00f8yet/\u00f8ynene/hud/munn",
    ),
    "Finnish": _language(
        "on ja ei se kun mutta etta joka minun tulostin tulostimesta niin olen oli"
        " sita apua tulee sain siihen mista nyt",
        "ei ilman eika koskaan savunharmaa vari",
        "savu/savua/savuaa/savusi/savuttaa/tulipalo/liekki/liekit/liekkeja/kipina/kipinoita/kipinoi",
        "palaa/palaneen/palaneelta/paloi/karyaa/kary/karya/syttyi",
        "sahkoisku*",
        "hartsi/hartsia & silma/silmaan/silmiin/iho/iholle/suuhun",
    ),
}
"""Name of the language → its words [judgement: desk, 2026-11-25]."""


def foreign_patterns() -> Iterator[tuple[Target, str]]:
    """Yield every pattern with its target; the id is the language."""
    for name, language in LANGUAGES.items():
        for pattern in language.dangers:
            yield Target(FOREIGN_KIND, name, ""), pattern


def note_foreign_dangers(document: Document, matches: Iterable[Match]) -> tuple[str, ...]:
    """Return one sentence for the language in which words of danger stand, else nothing.

    Of several languages that share a word the one counts of which the text holds most common words.
    """
    words = frozenset(document.words)
    found: dict[str, Match] = {}
    for match in matches:
        if not _is_taken_back(document, match):
            found.setdefault(match.target.id, match)
    spoken = {name: len(words & LANGUAGES[name].common) for name in found}
    likeliest = max(spoken, key=lambda name: spoken[name], default="")
    if not likeliest or spoken[likeliest] < LEAST_COMMON:
        return ()
    match = found[likeliest]
    quote = document.quote(document.span(match.first, match.last))
    return (f"This may be dangerous, please read it: \u201c{quote}\u201d seems to be {likeliest}.",)


def _is_taken_back(document: Document, match: Match) -> bool:
    """Whether a denial, a colour or the like stands beside the words in their clause."""
    harmless = LANGUAGES[match.target.id].harmless
    clauses = document.clauses
    around = (
        *range(max(0, match.first - BEFORE), match.first),
        *range(match.last + 1, min(len(document.words), match.last + 1 + BEHIND)),
    )
    return any(
        document.words[at] in harmless and clauses[at] == clauses[match.first] for at in around
    )
