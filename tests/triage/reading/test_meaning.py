"""The sentence model and what it adds; most of it needs the extra 'meaning'."""

import math
from pathlib import Path

import numpy as np
import pytest

from tests.triage.folder import write_folder
from triage.errors import InputError
from triage.knowledge import Knowledge, Story, load_knowledge
from triage.reading import TextClassifier, load_or_train, load_sentence_model
from triage.reading.meaning import SHARE, SIZE, SentenceModel, gelu, is_model_installed, place
from triage.scoring import MeaningRanking

LIFTED, BUBBLY = "shrinkage-warp", "filament-wet"
needs_model = pytest.mark.skipif(not is_model_installed(), reason="the extra 'meaning' is missing")


@pytest.fixture
def model() -> SentenceModel:
    """Return the sentence model."""
    found = load_sentence_model()
    assert found is not None
    return found


@pytest.fixture
def knowledge(tmp_path: Path) -> Knowledge:
    """Return a small knowledge."""
    return load_knowledge(write_folder(tmp_path))


def make_stories() -> tuple[Story, ...]:
    """Return a dozen stories of two faults in words that tell them apart."""
    lifted = [f"The edge lifted away, corner number {at} curls." for at in range(6)]
    bubbly = [f"Bubbles and hissing steam at spot {at}." for at in range(6)]
    return (
        *(Story(text, (LIFTED,)) for text in lifted),
        *(Story(text, (BUBBLY,)) for text in bubbly),
    )


def test_gelu_is_the_value_times_its_normal_probability() -> None:
    """The error function of Python's math library is the judge; single precision."""
    values = np.linspace(-8.0, 8.0, 401, dtype=np.float32)
    wanted = [value * 0.5 * (1.0 + math.erf(value / math.sqrt(2.0))) for value in values.tolist()]

    assert gelu(values) == pytest.approx(wanted, abs=2e-6)


def test_placed_vectors_forget_the_centre_and_have_one_size() -> None:
    chance = np.random.default_rng(5)
    vectors = chance.normal(size=(4, SIZE)).astype(np.float32)
    centre = vectors.mean(axis=0)

    placed = place(vectors, centre)

    assert (placed * placed).sum(axis=1) == pytest.approx(np.full(4, SHARE), rel=1e-5)
    assert place(vectors + 3.0, centre + 3.0) == pytest.approx(placed, abs=1e-5)


def test_door_is_open_only_where_the_extra_is_installed() -> None:
    assert (load_sentence_model() is not None) == is_model_installed()


@needs_model
@pytest.mark.parametrize(
    ("text", "near", "far"),
    [
        ("The corners curl up.", "My part's edges come off the bed.", "It smells of smoke."),
        ("A man is eating pasta.", "Somebody has a meal.", "The sky is full of planes."),
        ("The spool is damp.", "Moisture got into the filament.", "The belt has come loose."),
    ],
)
def test_vectors_of_like_sense_lie_nearer(
    model: SentenceModel, text: str, near: str, far: str
) -> None:
    asked, first, second = model.embed_all([text, near, far])

    assert asked @ first > asked @ second + 0.1


@needs_model
@pytest.mark.parametrize("text", ["", "?!", "word", "many words " * 4000])
def test_every_text_has_a_vector_of_length_one(model: SentenceModel, text: str) -> None:
    assert float(np.linalg.norm(model.embed(text))) == pytest.approx(1.0, abs=1e-5)


@needs_model
def test_classifier_hears_words_no_story_has(knowledge: Knowledge, model: SentenceModel) -> None:
    """The words it shares with the stories, "the" and "away", say nothing of either fault."""
    text = "Some vapour fizzes from the hot end, number"
    plain = TextClassifier.train(make_stories(), knowledge)
    meant = TextClassifier.train(make_stories(), knowledge, model=model)
    prior = knowledge.network.prior

    before, after = (found.log_ratios(text, prior) for found in (plain, meant))

    assert after[BUBBLY] - after[LIFTED] > before[BUBBLY] - before[LIFTED]


@needs_model
def test_file_keeps_what_meaning_adds(
    knowledge: Knowledge, model: SentenceModel, tmp_path: Path
) -> None:
    trained = load_or_train(tmp_path, make_stories(), knowledge, model=model)
    plain = load_or_train(tmp_path, make_stories(), knowledge)

    again = load_or_train(tmp_path, make_stories(), knowledge, model=model)

    assert len(list(tmp_path.glob("*.npz"))) == 2
    assert plain.sense is None
    assert np.array_equal(again.score("corner lifted"), trained.score("corner lifted"))


@needs_model
def test_ranking_by_meaning_needs_no_shared_word(
    knowledge: Knowledge, model: SentenceModel
) -> None:
    ranking = MeaningRanking(knowledge, model)

    assert ranking.rank("Its edges came off and bent upwards.", among=(BUBBLY, LIFTED)) == (
        LIFTED,
        BUBBLY,
    )


def test_file_trained_with_the_model_is_refused_without_it(
    knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it learned of meaning cannot be used, and half a classifier is none."""
    path = tmp_path / "reader.npz"
    TextClassifier.train(make_stories(), knowledge).save(path)
    with np.load(path) as held:
        parts = {**held, "sense": np.ones((SIZE, 2)), "centre": np.ones(SIZE)}
    np.savez(path, **parts)
    monkeypatch.setattr("triage.reading.classifier.load_sentence_model", lambda: None)

    with pytest.raises(InputError, match="trained with the sentence model, which is not installed"):
        TextClassifier.load(path, knowledge)
