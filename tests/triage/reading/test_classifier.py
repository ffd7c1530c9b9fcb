"""The classifier of whole texts: training, ratios, files, and how it does on held-out reports."""

from pathlib import Path

import numpy as np
import pytest

from tests.triage.folder import write_folder
from tests.triage.trained import load_told, real_classifier, real_knowledge
from triage.diagnose import Diagnoser, ReportInput
from triage.errors import InputError, UnknownIdError
from triage.inference import compute_posterior
from triage.knowledge import (
    KNOWLEDGE_FOLDER,
    Knowledge,
    Story,
    load_knowledge,
    load_stories,
)
from triage.reading import TextClassifier

LIFTED, BUBBLY = "shrinkage-warp", "filament-wet"
EMPTY = "Hi all, help please, see photo. Thanks!"


@pytest.fixture
def knowledge(tmp_path: Path) -> Knowledge:
    """Return a small knowledge."""
    return load_knowledge(write_folder(tmp_path))


def make_stories(*, weight: float = 1.0) -> tuple[Story, ...]:
    """Return a dozen stories of two faults in words that tell them apart."""
    lifted = [f"The edge lifted away, corner number {at} curls." for at in range(6)]
    bubbly = [f"Bubbles and hissing steam at spot {at}." for at in range(6)]
    return (
        *(Story(text, (LIFTED,), weight) for text in lifted),
        *(Story(text, (BUBBLY,)) for text in bubbly),
    )


def test_training_learns_the_words_of_each_fault(knowledge: Knowledge) -> None:
    classifier = TextClassifier.train(make_stories(), knowledge)

    ratios = classifier.log_ratios("The corner lifted!", knowledge.network.prior)
    others = classifier.log_ratios("Lots of bubbles hissing", knowledge.network.prior)

    assert max(ratios, key=ratios.__getitem__) == LIFTED
    assert max(others, key=others.__getitem__) == BUBBLY


def test_training_leaves_nothing_to_chance(knowledge: Knowledge) -> None:
    once, again = (TextClassifier.train(make_stories(), knowledge) for _ in range(2))

    assert np.array_equal(once.weight, again.weight)
    assert once.sharpness == again.sharpness


def test_training_has_a_digest_of_the_stories(knowledge: Knowledge) -> None:
    plain = TextClassifier.train(make_stories(), knowledge)
    heavier = TextClassifier.train(make_stories(weight=2.0), knowledge)

    assert plain.stories_count == heavier.stories_count == 12
    assert plain.stories_digest != heavier.stories_digest
    assert plain.knowledge_version == knowledge.version


def test_training_without_stories_is_refused(knowledge: Knowledge) -> None:
    with pytest.raises(InputError, match="no stories"):
        TextClassifier.train((), knowledge)


def test_training_on_an_unknown_fault_is_refused(knowledge: Knowledge) -> None:
    stories = (*make_stories(), Story("Text.", (f"{LIFTED}x",)))

    with pytest.raises(UnknownIdError, match=f"nearest valid name is '{LIFTED}'"):
        TextClassifier.train(stories, knowledge)


def test_ratios_change_no_number_of_faults() -> None:
    """Their mean by the prior is 1, whatever the text and the possible faults."""
    network = real_knowledge().network
    for story in load_told()[::12]:
        for prior in (network.prior, np.where(network.occurs["MEX"], network.prior, 0.0)):
            ratios = real_classifier().log_ratios(story.text, prior)
            factor = np.exp(list(ratios.values()))
            assert factor @ prior / prior.sum() == pytest.approx(1.0)


def test_ratios_of_a_text_without_substance_are_none() -> None:
    prior = real_knowledge().network.prior

    assert real_classifier().log_ratios(EMPTY, prior) == {}
    assert real_classifier().log_ratios("", prior) == {}
    assert real_classifier().log_ratios("qwxz jjqk", prior) == {}


def test_report_without_substance_leaves_the_ranking_at_the_prior() -> None:
    """Neither the words as a whole nor what they leave out says anything."""
    knowledge = real_knowledge()
    diagnoser = Diagnoser(knowledge, classifier=real_classifier())

    told = diagnoser.diagnose(ReportInput("a", EMPTY))
    untold = diagnoser.diagnose(ReportInput("b", ""))

    assert told.posterior.chances == untold.posterior.chances
    assert told.evidence.text == {}
    assert [fault.prior for fault in told.posterior.ranked] == pytest.approx(
        [fault.probability for fault in told.posterior.ranked]
    )


def test_file_gives_the_same_classifier_again(knowledge: Knowledge, tmp_path: Path) -> None:
    classifier = TextClassifier.train(make_stories(), knowledge)
    classifier.save(tmp_path / "reader.npz")

    again = TextClassifier.load(tmp_path / "reader.npz", knowledge)

    assert np.array_equal(again.score("corner lifted"), classifier.score("corner lifted"))
    assert again.stories_digest == classifier.stories_digest
    assert again.stories_count == 12
    assert again.knowledge_version == knowledge.version


@pytest.mark.parametrize(
    "content", [b"", b"no archive", b"\x93NUMPY\x01\x00", b"PK\x03\x04 broken archive"]
)
def test_file_that_is_no_classifier_is_refused(
    knowledge: Knowledge, tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "reader.npz"
    path.write_bytes(content)

    with pytest.raises(InputError, match=r"'reader\.npz' cannot be read as a classifier"):
        TextClassifier.load(path, knowledge)


def test_file_that_is_missing_or_lacks_a_part_is_refused(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    np.savez(tmp_path / "other.npz", recipe=np.array(1))

    for name in ("missing.npz", "other.npz"):
        with pytest.raises(InputError, match="cannot be read as a classifier"):
            TextClassifier.load(tmp_path / name, knowledge)


def test_file_of_another_recipe_is_refused(knowledge: Knowledge, tmp_path: Path) -> None:
    path = tmp_path / "reader.npz"
    TextClassifier.train(make_stories(), knowledge).save(path)
    with np.load(path) as held:
        parts = {**held, "recipe": np.array("of old")}
    np.savez(path, **parts)

    with pytest.raises(InputError, match="trained by another state of this program; train it anew"):
        TextClassifier.load(path, knowledge)


def test_classifier_of_other_faults_is_refused(knowledge: Knowledge, tmp_path: Path) -> None:
    """Its columns would be taken for those of other faults."""
    path = tmp_path / "reader.npz"
    TextClassifier.train(make_stories(), knowledge).save(path)

    with pytest.raises(InputError, match=r"tells other faults apart.*train it anew"):
        TextClassifier.load(path, real_knowledge())
    with pytest.raises(InputError, match="tells other faults apart"):
        Diagnoser(knowledge, classifier=real_classifier())


def _hits(rankings: list[list[str]], first: int) -> float:
    """Return the share of the held-out reports with one of their faults among the first."""
    found = [
        not set(ranking[:first]).isdisjoint(story.faults)
        for ranking, story in zip(rankings, load_told(), strict=True)
    ]
    return sum(found) / len(found)


def _rank(diagnoser: Diagnoser) -> tuple[list[list[str]], list[float]]:
    """Return the ranking of each held-out report, and the probability of its first."""
    posteriors = [
        compute_posterior(diagnoser.knowledge, diagnoser.gather(ReportInput("a", story.text)))
        for story in load_told()
    ]
    return (
        [[fault.id for fault in posterior.ranked] for posterior in posteriors],
        [posterior.ranked[0].probability for posterior in posteriors],
    )


def test_words_as_a_whole_help_on_reports_never_trained_on() -> None:
    """Structural floors, well below what was measured (docs/reading.md): not one to tune to."""
    knowledge = real_knowledge()
    plain = Diagnoser(knowledge)
    both = Diagnoser(knowledge, reader=plain.reader, classifier=real_classifier())

    read, _ = _rank(plain)
    weighed, sure = _rank(both)

    assert _hits(weighed, 1) >= 0.80
    assert _hits(weighed, 3) >= 0.90
    assert _hits(weighed, 1) > _hits(read, 1)
    assert _hits(weighed, 3) > _hits(read, 3)
    # Not surer of its first than it is right; 0.05 is two standard errors of 144 reports.
    assert sum(sure) / len(sure) <= _hits(weighed, 1) + 0.05


def test_held_out_reports_are_none_of_the_stories() -> None:
    """No six words in a row stand in both, but for chance."""
    stories = load_stories(real_knowledge(), KNOWLEDGE_FOLDER)
    known = {run for story in stories for run in _runs(story.text)}

    for story in load_told():
        runs = _runs(story.text)
        assert len(runs & known) <= 0.2 * len(runs)


def _runs(text: str) -> set[tuple[str, ...]]:
    """Return every six words in a row."""
    words = text.casefold().split()
    return {tuple(words[at : at + 6]) for at in range(len(words) - 5)}
