"""Hooks for the opening: short, varied, and never the answer."""

import functools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpdesk.cases.services import Consent
from helpdesk.core.jobs import run_due_jobs
from helpdesk.diagnosis import engine
from helpdesk.diagnosis.services import set_verdict
from helpdesk.episodes import services
from helpdesk.episodes.case_stories import gather_stories, secrets_of
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.episodes.teases import CaseStory, gives_away, propose_hooks, telling_words
from tests.factories import make_case
from tests.helpdesk.episodes.test_shows import AGREED, START

FAULTS = [fault.id for fault in engine.list_faults()]
SHOWN = [finding.name for finding in engine.list_findings() if finding.kind == "part"]
# Grammar alone; the module's own list is not trusted here.
GRAMMAR_WORDS = """
the a an and or of to in on at is are it its be by for from with too not than then that this there
where when so as up off out into over only once one two no any all each every again before after
while between under same other others still very more less most never new own does do has have what
was were will can may must if but through along down your you some let lets both about upon away few
"""
GRAMMAR = set(GRAMMAR_WORDS.split())
# What every case of the show is about tells nothing.
SUBJECT = {"print", "prints", "printed", "printer", "printing", "part", "parts", "thing", "things"}
ORDINARY = {
    "shows",
    "use",
    "used",
    "set",
    "put",
    "make",
    "take",
    "start",
    "starts",
    "keep",
    "show",
    "try",
}


@functools.cache
def names_to_keep(fault):
    """Return what a fault's hooks must not say; gathered once, as examples draw it often."""
    return tuple(secrets_of({fault}))


stories = st.builds(
    CaseStory,
    case_id=st.integers(1, 99),
    title=st.sampled_from(
        ["", "Seed tray", "Belt cover", "Vase at 61 mm", "A wet vase, loose belt"]
    ),
    machine=st.sampled_from(["", "Tern 220", "Siskin R4"]),
    material=st.sampled_from(["", "PETG"]),
    height_mm=st.sampled_from([None, 61.0, 0.2]),
    findings=st.lists(st.sampled_from(SHOWN), max_size=4),
    tries=st.integers(0, 9),
    is_dangerous=st.booleans(),
    secrets=st.sampled_from(FAULTS).map(names_to_keep),
)


def words_of(text):
    return set(re.findall(r"[^\W\d_]+", text.casefold()))


@pytest.mark.parametrize("fault", FAULTS)
def test_no_hook_names_the_fault_or_its_cure(fault):
    """Whatever shows on the print, three hooks come and none has a word of fault or remedy."""
    names = secrets_of({fault})
    assert engine.fault_info(fault).name in names
    secret = set().union(*map(words_of, names)) - GRAMMAR - SUBJECT - ORDINARY
    secret = {word for word in secret if len(word) >= 3}
    shown = [SHOWN[n : n + 8] for n in range(0, len(SHOWN), 8)]

    for findings in [[], *shown]:
        for title in (engine.fault_info(fault).name, "Seed tray"):
            story = CaseStory(
                1, title, "Tern 220", "PETG", height_mm=43, findings=findings, tries=2,
                secrets=names,
            )  # fmt: skip
            hooks = [hook for turn in range(2) for hook in propose_hooks([story], turn=turn)]
            assert len(hooks) == 6
            for hook in hooks:
                assert not words_of(hook.text) & secret, (hook.text, words_of(hook.text) & secret)


@settings(max_examples=300)
@given(st.lists(stories, min_size=1, max_size=8), st.integers(0, 20))
def test_hooks_are_three_short_different_sentences(cases, turn):
    hooks = propose_hooks(cases, turn=turn)

    texts = [hook.text for hook in hooks]
    assert len(set(texts)) == 3
    for text in texts:
        assert len(text.split()) <= 25
        assert text[-1] in ".?"
        assert "!" not in text
        assert "{" not in text
    for hook in hooks:
        told = [telling_words(c.secrets) for c in cases if c.case_id == hook.case_id]
        assert any(not gives_away(hook.text, telling) for telling in told)
    assert texts == [hook.text for hook in propose_hooks(cases, turn=turn)]


def test_no_case_gives_no_hook():
    assert propose_hooks([]) == []


@pytest.mark.parametrize("form", ["belt", "Belts", "tightened", "TIGHTENING"])
def test_a_telling_word_is_found_in_every_form(form):
    telling = telling_words(["A loose belt", "Tighten the belts"])

    assert gives_away(f"Look at the {form}.", telling)


def test_danger_is_no_riddle():
    story = CaseStory(1, "Lamp", findings=["Blobs on the walls"], is_dangerous=True)

    texts = [hook.text for turn in range(3) for hook in propose_hooks([story], turn=turn)]

    assert not any("guess" in text or "riddle" in text or "Lamp" in text for text in texts)


def test_other_turns_give_other_hooks():
    story = CaseStory(1, "Seed tray", findings=["Blobs or pimples on the walls"])

    assert {h.text for h in propose_hooks([story])} != {
        h.text for h in propose_hooks([story], turn=1)
    }


@pytest.mark.django_db
def test_hooks_go_into_the_tease_as_they_were_changed(client, producer):
    episode = services.make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=175
    )
    case = make_case(consent=AGREED, title="Seed tray")
    run_due_jobs()
    set_verdict(case, ["bed-temperature-wrong"], actor=producer)
    services.add_case(episode, case, actor=producer)
    services.add_case(episode, make_case(consent=Consent()), actor=producer)
    client.force_login(producer)
    address = f"/episodes/{episode.number}/teases"

    assert [story.case_id for story in gather_stories(get_run_sheet(episode))] == [case.pk]
    page = client.get(address)
    proposed = page.context["form"].initial["words"]
    assert len(proposed.split("\n\n")) == 3
    tease = episode.segments.get(kind="tease")
    sent = {"words": "Ours, changed.", "version": tease.version}
    assert client.post(address, sent).status_code == 302
    tease.refresh_from_db()
    assert tease.script == "Ours, changed."

    late = client.post(address, sent | {"words": "Late words"})
    assert late.status_code == 409
    assert "Ours, changed." in late.content.decode()
    assert "Late words" in late.content.decode()


@pytest.mark.django_db
def test_sheet_without_a_tease_gets_one(client, producer):
    episode = services.make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=175
    )
    episode.segments.filter(kind="tease").delete()
    client.force_login(producer)

    client.post("/episodes/38/teases", {"words": "Ours."})

    first = episode.segments.order_by("position")[0]
    assert (first.kind, first.script) == ("tease", "Ours.")

    # Somebody else who had seen the sheet without a tease does not overwrite these words unseen.
    late = client.post("/episodes/38/teases", {"words": "Theirs."})
    assert late.status_code == 409
    assert "Ours." in late.content.decode()
    assert "Theirs." in late.content.decode()
    first.refresh_from_db()
    assert first.script == "Ours."
