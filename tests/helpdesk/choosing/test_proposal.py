"""What a proposal holds: who may be in, what stays, how long it takes, what gives way."""

import datetime

import pytest

from helpdesk.cases.joining import join_cases
from helpdesk.cases.models import Appearance
from helpdesk.cases.services import Consent, erase_person
from helpdesk.choosing import services
from helpdesk.choosing.models import Reason, Weight
from helpdesk.choosing.selectors import get_proposal, list_changes
from helpdesk.choosing.ways import list_ways
from helpdesk.choosing.weights import get_weights
from helpdesk.core import clock
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.episodes.services import add_segment, change_segment
from helpdesk.people.services import note_people
from tests.helpdesk.choosing.desk import make_show, make_showable, make_showables, put_by_hand

pytestmark = pytest.mark.django_db


def test_no_case_at_all_gives_nothing_and_no_way_out():
    proposal = get_proposal(make_show())

    assert proposal.best is None
    assert list_ways(proposal) == []


def test_set_fits_the_minutes_the_other_parts_leave():
    cases = make_showables(9)
    episode = make_show()

    proposal = get_proposal(episode)

    assert proposal.best
    assert proposal.frame.fixed_s == sum(row.seconds for row in get_run_sheet(episode).rows)
    assert proposal.best.seconds <= 1200 - proposal.frame.fixed_s
    assert set(proposal.best.chosen) < {case.pk for case in cases}
    assert proposal.places[0].in_s == 0
    assert proposal.places[-1].out_s == proposal.frame.fixed_s + proposal.best.seconds
    assert proposal.over_s <= 0


def test_times_follow_each_other_and_openers_and_closers_frame_the_cases():
    make_showables(4)

    proposal = get_proposal(make_show())

    ends = [place.out_s for place in proposal.places]
    assert [place.in_s for place in proposal.places] == [0, *ends[:-1]]
    slugs = [place.part.slug if place.part else "case" for place in proposal.places]
    assert slugs[:2] == ["What is coming", "Hello"]
    assert slugs[2:6] == ["case"] * 4
    assert slugs[6:] == ["Thanks", "Send us your failures", "Until next time"]


@pytest.mark.parametrize("what", ["no consent", "not answered", "erased", "joined", "guardian"])
def test_case_that_may_not_be_shown_is_left_out(what, producer):
    good = make_showable()
    consent = {
        "no consent": Consent(),
        "guardian": Consent(may_show_photos=True, is_under_16=True),
    }
    bad = make_showable(
        "heat-creep",
        is_answered=what != "not answered",
        consent=consent.get(what, Consent(may_show_photos=True)),
    )
    if what == "erased":
        erase_person(bad, by="them")
    if what == "joined":
        join_cases(bad, into=good, actor=producer)

    proposal = get_proposal(make_show())

    assert proposal.case_ids == [good.pk]
    held = {shown.case.pk: shown.bars for shown in proposal.held_back}
    if what in ("no consent", "not answered", "guardian"):
        assert held[bad.pk]


def test_case_whose_right_of_reply_is_open_is_left_out():
    case = make_showable("filament-poor-batch")
    case.material_maker = "Fennmoor"
    case.save()

    proposal = get_proposal(make_show())

    assert proposal.best is None
    (held,) = proposal.held_back
    assert "ask for a reply" in held.bars[0]


def test_confident_suspicion_counts_and_a_weak_one_does_not():
    likely, weak = make_showable(), make_showable()
    for case, chance in ((likely, 0.8), (weak, 0.4)):
        case.verdicts.all().delete()
        case.top_fault, case.top_fault_name, case.top_probability = "belt-loose", "Belt", chance
        case.save()

    assert get_proposal(make_show()).case_ids == [likely.pk]


def test_one_case_of_a_person_unless_the_rules_say_more():
    first, second = make_showable(), make_showable("heat-creep")
    second.email = first.email
    second.save()
    for case in (first, second):
        note_people(case.pk)
    episode = make_show()

    assert len(get_proposal(episode).case_ids) == 1

    services.set_rules(episode, {"most_per_person": 2})
    assert len(get_proposal(episode).case_ids) == 2


def test_must_and_never_are_kept_and_taken_back(producer):
    cases = make_showables(9)
    episode = make_show(slot_s=400)
    best = get_proposal(episode).case_ids[0]
    other = next(case for case in cases if case.pk != best)

    services.set_wish(episode, other, kind="must", actor=producer)
    services.set_wish(episode, next(c for c in cases if c.pk == best), kind="never", actor=producer)
    assert get_proposal(episode).case_ids == [other.pk]

    services.set_wish(episode, other, kind="", actor=producer)
    assert best not in get_proposal(episode).case_ids


def test_wishes_of_one_episode_are_not_those_of_another(producer):
    case = make_showable()
    services.set_wish(make_show(37), case, kind="never", actor=producer)

    assert get_proposal(make_show(38)).case_ids == [case.pk]


def test_swap_takes_one_for_the_other(producer):
    cases = {case.pk: case for case in make_showables(9)}
    episode = make_show(slot_s=400)
    chosen = get_proposal(episode).case_ids[0]
    coming = next(number for number in cases if number != chosen)

    services.swap_cases(episode, out=cases[chosen], coming=cases[coming], actor=producer)

    assert get_proposal(episode).case_ids == [coming]


def test_cases_on_the_sheet_stay_with_their_own_length(producer):
    make_showables(9)
    mine = make_showable("belt-loose", is_answered=False)
    episode = make_show(slot_s=700)
    put_by_hand(episode, mine, producer, fixed_s=300)

    proposal = get_proposal(episode)

    assert mine.pk in proposal.case_ids
    place = next(p for p in proposal.chosen if p.shown and p.shown.case.pk == mine.pk)
    assert place.seconds >= 300
    assert place.shown
    assert "It is not answered yet." in place.shown.lacks


def test_notice_does_not_come_last_and_a_fixed_time_is_met():
    make_showables(4)
    episode = make_show()
    add_segment(episode, kind="notice", slug="Look at your plugs", fixed_s=60)
    thanks = episode.segments.get(kind="thanks")
    hit = episode.starts_at + datetime.timedelta(seconds=350)
    change_segment(thanks, {"hit_at": hit})

    proposal = get_proposal(episode)

    notice = next(p for p in proposal.places if p.part and p.part.is_notice)
    assert notice.out_s < max(place.out_s for place in proposal.chosen)
    met = next(p for p in proposal.places if p.part and p.part.hit_at)
    assert met.in_s == 350


def test_a_cure_ends_the_cases():
    make_showables(3)
    cured = make_showable("elephant-foot", is_cured=True)

    assert get_proposal(make_show()).case_ids[-1] == cured.pk


def test_way_out_of_a_short_slot_is_named_in_time():
    make_showable()

    ways = list_ways(get_proposal(make_show(slot_s=240)))

    assert [way.text for way in ways] == [
        "Give it 0:50 more: a slot of 4:50, or shorter fixed parts."
    ]


def test_way_out_of_an_impossible_must_have_names_what_is_missing(producer):
    make_showables(3)
    kept_back = make_showable("heat-creep", consent=Consent())
    episode = make_show()
    services.set_wish(episode, kept_back, kind="must", actor=producer)

    (way,) = list_ways(get_proposal(episode))

    assert way.text.startswith("Do without the must-have")
    assert way.text.endswith("no consent to show the photos.")
    services.set_wish(episode, kept_back, kind=way.wish, actor=producer)
    assert get_proposal(episode).best


def test_way_out_of_too_many_families_is_a_smaller_number():
    make_showable("belt-loose")
    episode = make_show()
    services.set_rules(episode, {"least_families": 3})

    (way,) = list_ways(get_proposal(episode))

    assert way.text == "Ask for fewer families of faults: 1 instead of 3."


def test_weights_change_what_is_best(producer):
    waited = make_showable("belt-loose")
    waited.opened_at -= datetime.timedelta(days=40)
    waited.save()
    Appearance.objects.create(
        case=waited,
        episode_number=30,
        episode_title="Then",
        starts_at_s=60,
        on_date=clock.today() - datetime.timedelta(days=20),
    )
    fresh = make_showable("belt-loose")
    episode = make_show(slot_s=300)
    assert get_proposal(episode).case_ids == [fresh.pk]

    services.set_weights({Reason.WAITING: 90, Reason.RESTED: 0}, actor=producer)

    assert get_proposal(episode).case_ids == [waited.pk]
    assert get_weights()[Reason.WAITING] == 90


def test_unchanged_weights_are_not_stored(producer):
    assert services.set_weights(get_weights(), actor=producer) == 0
    assert not Weight.objects.exists()


def test_changes_name_words_that_would_go(producer):
    case = make_showables(3)[0]
    episode = make_show()
    put_by_hand(episode, case, producer, script="Four words of script")
    services.set_wish(episode, case, kind="never", actor=producer)

    changes = list_changes(episode, get_proposal(episode).places)

    (dropped,) = [change for change in changes if change.what == "drop"]
    assert dropped.words == 4


def test_number_of_queries_does_not_grow_with_the_cases(django_assert_max_num_queries):
    make_showables(3)
    get_proposal(slot_s=1200)
    with django_assert_max_num_queries(40) as few:
        get_proposal(slot_s=1200)
    make_showables(20)
    get_proposal(slot_s=1200)  # counts the words of the new ones once
    with django_assert_max_num_queries(len(few)):
        get_proposal(slot_s=1200)
