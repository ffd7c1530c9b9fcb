"""Reasons to show a case: scores from 0 to 1, each with its sentence."""

import datetime

import pytest

from helpdesk.choosing.models import Reason
from helpdesk.choosing.reasons import Facts, History, Picture, weigh
from helpdesk.choosing.weights import DEFAULTS

TODAY = datetime.date(2026, 11, 25)
MOTION = frozenset({("family", "motion"), ("process", "MEX"), ("machine", "tern 220")})


def weigh_one(reason, history=None, **facts):
    """Return the score and the sentence of one reason."""
    found = weigh(Facts(**facts), history or History(), DEFAULTS, today=TODAY)
    (one,) = [weighed for weighed in found if weighed.reason == reason]
    assert 0 <= one.score <= 1
    assert one.sentence.endswith((".", "yet."))
    return one.score, one.sentence


def test_weightiest_reason_comes_first():
    found = weigh(Facts(bits_seen=9.0, fault_name="Loose belt"), History(), DEFAULTS, today=TODAY)

    assert found[0].reason == Reason.INSTRUCTIVE
    assert found[0].worth == 4000
    assert [w.worth for w in found] == sorted((w.worth for w in found), reverse=True)


@pytest.mark.parametrize(("bits", "score"), [(None, 0), (-2.0, 0), (0.0, 0), (3.0, 0.5), (20.0, 1)])
def test_instructive_counts_bits_that_can_be_seen(bits, score):
    assert weigh_one(Reason.INSTRUCTIVE, bits_seen=bits, fault_name="Loose belt")[0] == score


def test_instructive_says_how_far_belief_moved():
    _, sentence = weigh_one(
        Reason.INSTRUCTIVE, bits_seen=3.25, bits_all=7.0, fault_name="Loose belt"
    )

    assert sentence == (
        "What can be seen moves belief by 3.2 bits towards “Loose belt”, of 7.0 bits altogether."
    )


def test_fresh_falls_with_every_recent_episode_that_had_the_like():
    history = History(episodes=4, counts={("family", "motion"): 2, ("process", "MEX"): 4})

    score, sentence = weigh_one(Reason.FRESH, history, traits=MOTION)

    assert score == pytest.approx(1 - 0.6 * 2 / 4 - 0.2 * 4 / 4)
    assert sentence == "Faults of the family “motion” were in 2 of the last 4 episodes."


def test_fresh_before_any_episode():
    assert weigh_one(Reason.FRESH, traits=MOTION)[0] == 1


@pytest.mark.parametrize(
    ("pictures", "score"),
    [
        ([], 0),
        ([Picture(1_600_000, True)], 0.8),
        ([Picture(1_600_000, True), Picture(100, True)], 1),
        ([Picture(800_000, False)], 0.25),
        ([Picture(0, False)], 0),
    ],
)
def test_pictures_score_size_description_and_a_second_look(pictures, score):
    assert weigh_one(Reason.PICTURES, pictures=pictures)[0] == pytest.approx(score)


@pytest.mark.parametrize(("days", "score"), [(0, 0), (73, 0.2), (365, 1), (4000, 1), (-3, 0)])
def test_rested_grows_for_a_year(days, score):
    shown = TODAY - datetime.timedelta(days=days)

    assert weigh_one(Reason.RESTED, last_shown=shown)[0] == pytest.approx(score)


@pytest.mark.parametrize(("days", "score"), [(0.0, 0), (7.0, 0.5), (90.0, 1), (-1.0, 0)])
def test_waiting_grows_for_a_fortnight(days, score):
    assert weigh_one(Reason.WAITING, waited_days=days)[0] == pytest.approx(score)


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"results": ["failed", "worked"]}, "It worked in the end, after it had not."),
        ({"traits": frozenset({("family", "design")})}, "The fault lies in the model itself."),
        ({"faults": ["filament-poor-batch"]}, "Something bought was not what it should be."),
        ({"is_surprise": True}, "The fault was not the one the desk suspected first."),
        ({"faults": ["a", "b"], "is_confirmed": True}, "Two faults met."),
    ],
)
def test_story_names_its_turn(facts, words):
    score, sentence = weigh_one(Reason.STORY, **facts)

    assert score > 0
    assert sentence == words


def test_story_without_a_turn_is_worth_nothing():
    assert weigh_one(Reason.STORY, results=["worked", "worked"])[0] == 0


@pytest.mark.parametrize(("mark", "score"), [(None, 0), ("", 1), ("Clear pictures.", 1)])
def test_marked_by_somebody(mark, score):
    assert weigh_one(Reason.MARKED, mark=mark)[0] == score
