"""Telling a report that is not in English, and never taking English for anything else."""

import pytest

from helpdesk.diagnosis.engine.language import find_foreign, foreign_language, language_notes
from helpdesk.diagnosis.engine.preview import preview_text, read_findings
from helpdesk.diagnosis.selectors import get_view
from helpdesk.diagnosis.services import diagnose_case
from tests.factories import make_case
from triage.knowledge import KNOWLEDGE_FOLDER, load_knowledge, load_stories

FOREIGN = [
    ("German", "Die Ecken meiner Schachtel lösen sich nach einer Stunde vom Druckbett."),
    ("German", "Seit gestern klickt der Extruder ständig und es kommt kaum noch Material heraus."),
    ("German", "Zwischen den beiden Türmen hängen lauter feine Fäden, obwohl ich trocknete."),
    ("German", "Die oberen Schichten sind um drei Millimeter nach links verschoben worden."),
    ("French", "Les coins de ma boîte se décollent du plateau au bout d'une heure environ."),
    ("French", "Depuis hier l'extrudeur claque sans arrêt et presque rien ne sort de la buse."),
    ("French", "Il y a des fils très fins entre les deux tours malgré le séchage de la bobine."),
    ("French", "Les couches du haut sont décalées de trois millimètres vers la gauche."),
    ("Spanish", "Las esquinas de mi caja se despegan de la cama después de una hora de impresión."),
    ("Spanish", "Desde ayer el extrusor hace ruidos y casi no sale material por la boquilla."),
    ("Spanish", "Hay hilos muy finos entre las dos torres aunque sequé la bobina ayer."),
    ("Spanish", "Las capas superiores están desplazadas tres milímetros hacia la izquierda."),
    ("Italian", "Gli angoli della mia scatola si staccano dal piatto dopo circa un'ora di stampa."),
    ("Italian", "Da ieri l'estrusore fa rumore e dall'ugello non esce quasi più niente."),
    ("Italian", "Ci sono fili sottilissimi tra le due torri anche se ho asciugato la bobina."),
    ("Italian", "Gli strati superiori sono spostati di tre millimetri verso sinistra."),
    ("Dutch", "De hoeken van mijn doosje laten na ongeveer een uur los van het printbed."),
    ("Dutch", "Sinds gisteren tikt de aandrijving steeds en er komt bijna niets meer uit."),
    ("Dutch", "Tussen de twee torens hangen allemaal dunne draadjes, hoewel ik droogde."),
    ("Dutch", "De bovenste lagen zijn drie millimeter naar links verschoven geraakt."),
    ("Polish", "Rogi mojego pudełka odklejają się od stołu po mniej więcej godzinie."),
    ("Polish", "Od wczoraj wytłaczarka ciągle stuka i z dyszy prawie nic nie wychodzi."),
    ("Polish", "Między dwiema wieżami wiszą cienkie nitki, chociaż suszyłem szpulę."),
    ("Polish", "Górne warstwy są przesunięte o trzy milimetry w lewą stronę."),
    ("Portuguese", "Os cantos da minha caixa descolam da mesa depois de mais ou menos uma hora."),
    ("Portuguese", "Desde ontem o extrusor faz barulho e quase não sai material do bico."),
    ("Portuguese", "Há fios muito finos entre as duas torres, embora eu tenha secado a bobina."),
    ("Portuguese", "As camadas de cima estão deslocadas três milímetros para a esquerda."),
    ("Russian", "Углы моей коробки отрываются от стола примерно через час после начала печати."),
    ("Russian", "Уже второй день экструдер щёлкает, и из сопла почти ничего не выходит."),
    ("Russian", "Между двумя башнями висят тонкие нити, хотя я просушил катушку."),
    ("Russian", "Верхние слои сдвинуты на три миллиметра влево от нижних."),
]
ENGLISH = """
My rook came out leaning and the battlements are a right mess of hairs and blobs.
Tern 220, Fennmoor PLA matt teal, 0.2 mm, 210/60, 60 mm/s, skirt fine, brim curled.
pls help test boat hull has gaps n the bow looks melty, filament new from bag
Printing a bracket in PETG-CF, the layers split like puff pastry when I bend it.
TPU 95A on a bowden, keeps jamming, tried slower, tried hotter, no joy whatsoever.
It went fine till layer 212, then spaghetti everywhere and a blob on the hotend.
The gyroid infill rattles, steppers hum, acceleration at 3000, jerk 8, klack klack.
Elephants foot on every cube, calipers say 20.4 x 20.38 x 19.97, flow 98 percent.
Resin print stuck to the FEP, raft left on the plate, vat full of bits, exposure 2.4.
ghosting/ringing round the lettering, belts twang like a banjo, hmmm
Zits along the z seam, retraction 0.8 at 35, coasting off, wipe on, combing not in skin.
Extruder gear chews a divot in the filament and then grinds, dust all round the idler.
Nozzle plooped onto the bed and dragged the whole skirt off, glass plate, hairspray.
me printer no print, motor goes brrr, no plastic come out, what do
Lithophane came out banded, alternate bands darker, maybe z wobble or leadscrew grease.
Hobbyist here, first ABS go, enclosure from a cupboard, split right across the middle.
Knackered PTFE liner, sooty smell, burnt brown bits in white PLA, swapped heatbreak.
Vase mode lampshade has a gash up one side where the spiral starts, otherwise lush.
Whistle, dragon, two frogs and a bookend all failed overnight, cat suspected.
Bridges droop, overhangs curl, fan whirs but barely puffs, duct cracked in half.
Nowt sticks. Wiped plate wi' meths, washed wi' soap, relevelled, bumped bed to 65.
Scarf seam test, arachne walls, 0.6 nozzle, 0.3 layers, underextruded corners.
Pillowing over the top of sparse infill, four top layers, cooling maxed, still holes.
My grandson's dinosaur lost its tail at the supports and the snout is stringy.
Filament tangled on the spool; gantry skipped; everything above is staircase-shaped.
Klipper says thermal runaway, thermistor wiggles, wires frayed near the drag chain.
Squashed first layer, nozzle ploughs furrows, babystepped up 0.04 and it's perfect.
Cosplay helmet, warped jawline, glue stick plus brim, draught from the garage door.
Polypropylene won't adhere; packing tape on the bed works somewhat but edges lift.
Nylon popping and hissing, steam from nozzle, surface fuzzy as a peach.
Anti-aliasing on, still voxel lines; resin tacky post cure; IPA murky, rinsed twice.
Cone shrank 0.7 %, bore undersize by 0.25, bearing wont press in, reamed it by hand.
Dual extrusion bleed: magenta smears in the white, purge tower toppled at 34 mm.
Stuttery circles, eccentric nuts loose, v-wheels flat-spotted, wobble at carriage.
Bed slinger walking off the workbench, thump thump at every direction change.
Sagging hammocks under the arch, supports set at 55 degrees, interface none.
Gloopy strands droop from nozzle during preheat, ooze shield useless, puddle on plate.
Marlin beeps, heater failed, cartridge loose in block, sock missing, silicone crumbs.
Wee gaps twixt perimeters an infill, outline overlap 15, speed 80, dinnae ken why.
Chess pawns snapped at the necks, brittle spool of bargain silk gold, damp shed.
Layer adhesion duff on ASA, chamber 38, fan 20, nozzle 245, cracked audibly.
Z banding every 8 mm, matches the leadscrew pitch, coupler looks wonky.
Clogged again!!! cold pull got a tiny black fleck, brass nozzle 0.25, glow filament.
Scratchy underside, supports welded on, tree supports snapped clean, z gap 0.2.
Photopolymer goo under the FEP, screen protector saved the LCD, sheet pinholed.
Hollow figurine burst, drain holes too titchy, cupping, suction pops at each lift.
Thermal tape failed; probe triggered late; crash into clips; gouged PEI sheet.
Skewed cubes, diagonal 28.1 versus 28.5, frame racked, tweaked corner brackets.
Purple monster slicer glitch: missing thumb, model non-manifold, repaired online.
Webcam timelapse shows droopy lace where hull meets deck, fan at zero until layer 4.
Print popped off with a bang at 3 am, textured sheet cold, part intact though.
Ironed top is ripply; ironing flow 12; spacing .1; shiny streaks alternating matte.
Motors scalding, vref 1.1, steps skipped after lunch, shifted toward the window.
Bulgy walls near the belly line, cube faces concave, infill anchors showing thru.
Crunchy bowden coupling, tube creeps 2 mm each retraction, clip lost, strings galore.
Slop in the toolhead, rail gritty, one carriage ball dropped out, oops.
Miniature swords bend, arms missing, medium supports, tips .3, lift speed 90.
Warpy coaster, corners up 4 mm, concrete paver on rubber, room 14 degrees.
Spool hub squeaks, drag, underfed outer walls whenever roll is nearly empty.
Buzzing PSU, hotend fan dead, heat creep, plug halfway up the cold side, swapped fan.
Teeny blobs like sesame seeds all over a sphere, wet filament maybe, arcs faceted.
Glow-in-the-dark skulls look furry, jawbones fused, scraped with a scalpel.
""".strip().splitlines()


@pytest.mark.parametrize(("language", "text"), FOREIGN)
def test_other_languages_are_told(language: str, text: str) -> None:
    assert foreign_language(text) == language


@pytest.mark.parametrize("text", ENGLISH)
def test_english_hobby_talk_is_english(text: str) -> None:
    assert foreign_language(text) == ""


def test_every_story_of_the_knowledge_is_english() -> None:
    stories = load_stories(load_knowledge(), KNOWLEDGE_FOLDER)

    assert len(ENGLISH) >= 60
    assert [story.text for story in stories if foreign_language(story.text)] == []


@pytest.mark.parametrize(
    "text", ["", "Hilfe, Druck kaputt", "PLA 210 60 0.2", "🙃" * 80, "1 2 3 " * 40]
)
def test_short_texts_count_as_english(text: str) -> None:
    assert foreign_language(text) == ""


@pytest.mark.django_db
def test_english_with_a_foreign_sentence_is_still_read() -> None:
    text = "The corners lifted from the bed and the layers shifted. Danke für die schnelle Hilfe!"

    assert foreign_language(text) == ""
    assert {read.id for read in read_findings(text)} >= {"corners-lifted", "layers-shifted"}


@pytest.mark.django_db
def test_a_text_that_is_not_english_is_not_read_and_the_case_says_so() -> None:
    """Its Dutch "spaghetti" would otherwise count as a finding."""
    text = (
        "Er ligt spaghetti op het printbed en de bovenste lagen zijn helemaal verschoven geraakt."
    )
    case = make_case(story=text)

    diagnose_case(case.pk, cause="test")

    view = get_view(case)
    assert view is not None
    assert view.readings == ()
    assert "Written in Dutch; only English is read." in view.notes
    assert preview_text(text).language == "Dutch"
    assert preview_text(text).findings == ()


GERMAN = "Die Ecken meiner Schachtel lösen sich nach einer Stunde vom Druckbett."
PLAIN = "The corners of my box lifted from the bed after an hour of printing."


@pytest.mark.parametrize("between", ["\n\n", "\n", "\n \n\n"])
def test_a_foreign_part_is_blanked_and_places_stay(between: str) -> None:
    text = f"{PLAIN}{between}{GERMAN}{between}{PLAIN}"

    foreign = find_foreign(text)

    assert foreign.languages == ("German",)
    assert not foreign.is_all
    assert len(foreign.english) == len(text)
    assert foreign.english.split() == f"{PLAIN} {PLAIN}".split()
    assert foreign.english.rindex(PLAIN) == text.rindex(PLAIN)


def test_english_in_a_foreign_letter_is_read() -> None:
    text = f"{GERMAN} {GERMAN}\n\n{PLAIN}\n\n{GERMAN}\n\nDanke!"

    foreign = find_foreign(text)

    assert foreign.english.strip() == PLAIN
    assert foreign.languages == ("German",)


def test_two_languages_are_both_named() -> None:
    text = (
        f"{PLAIN}\n\n{GERMAN}\n\nLes coins de ma boîte se décollent du plateau au bout d'une heure."
    )

    assert find_foreign(text).languages == ("German", "French")


@pytest.mark.parametrize("text", ["", " ", "\n\n", PLAIN, "PLA 210 60\n0.2 mm\n\nBrim 5 mm"])
def test_english_is_read_as_it_stands(text: str) -> None:
    foreign = find_foreign(text)

    assert foreign.english == text
    assert foreign.languages == ()
    assert not foreign.is_all


def test_no_line_of_a_story_counts_as_another_language() -> None:
    stories = load_stories(load_knowledge(), KNOWLEDGE_FOLDER)

    assert [story.text for story in stories if find_foreign(story.text).passages] == []


def test_notes_quote_the_part_that_was_passed_over() -> None:
    (note,) = language_notes(f"{PLAIN}\n\n{GERMAN}")

    assert note.startswith("Partly written in German; only English is read: “Die Ecken meiner")
    assert note.endswith("…”")


@pytest.mark.django_db
def test_a_reply_in_another_language_is_passed_over_and_the_case_says_so() -> None:
    """The Dutch "spaghetti" of the second part would otherwise count as a finding."""
    dutch = (
        "Er ligt spaghetti op het printbed en de bovenste lagen zijn helemaal verschoven geraakt."
    )
    case = make_case(story=f"{PLAIN}\n\n{dutch}")

    diagnose_case(case.pk, cause="test")

    view = get_view(case)
    assert view is not None
    assert all(line.quote in PLAIN for line in view.readings)
    assert "corners-lifted" in {line.name for line in view.readings}
    assert any(words.startswith("Partly written in Dutch") for words in view.notes)
    assert "spaghetti" in case.reports.get().story


@pytest.mark.django_db
@pytest.mark.parametrize("before", ["", f"{PLAIN}\n\n"])
def test_words_of_danger_in_another_language_ask_for_a_reader(before: str) -> None:
    german = "Seit gestern kommt aus dem Netzteil immer wieder Rauch und es riecht verbrannt."
    case = make_case(story=f"{before}{german}")

    diagnose_case(case.pk, cause="test")

    view = get_view(case)
    assert view is not None
    assert any("Written in German" in words or "in German;" in words for words in view.notes)
    assert any(words.startswith("This may be dangerous, please read it") for words in view.notes)
