"""Pairs that may be one print: found whichever comes first, decided by a person, undone exactly."""

import io

import pytest
from django.core.files.base import ContentFile
from PIL import Image

from fixtures_demo.render import render_photo
from helpdesk.cases.erasure import erase_parts
from helpdesk.cases.models import Case
from helpdesk.cases.services import erase_person
from helpdesk.core.errors import WrongStateError
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job
from helpdesk.duplicates import services
from helpdesk.duplicates.evidence import THRESHOLD
from helpdesk.duplicates.models import PhotoPrint, Proposal, ProposalState, Trace
from helpdesk.duplicates.selectors import find_likely, list_open_proposals
from helpdesk.photos.services import prepare_photo, receive_photo
from tests.factories import make_case

pytestmark = pytest.mark.django_db(transaction=True)
LINK = "https://club.example/posts/81723?utm_source=list"
STORY = (
    "Last night my lens hood let go of the plate at layer ninety, and now the lower part is a "
    "smooth ramp while the rest went on in the air above it like a bird's nest."
)


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.STORAGES = {
        **settings.STORAGES,
        "photos": {
            "BACKEND": "django.core.files.storage.FileSystemStorage",
            "OPTIONS": {"location": tmp_path},
        },
    }


def _photo(case, picture, *, quality=88):
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=quality)
    file = ContentFile(out.getvalue(), name="photo.jpg")
    photo = receive_photo(file, label="photo.jpg", case=case)
    prepare_photo(photo.pk)
    return photo


def _picture(scene="layer-shift", seed=3, color="teal"):
    return render_photo(scene, seed=seed, color=color, size=(480, 360))


def _stranger(**fields):
    values = {"story": "Saw this in our room.", "email": "joost.wold@millrace.example", "facts": {}}
    return make_case(**(values | fields))


def _pair():
    """Return two cases with the same picture, the second one cut and compressed."""
    first, second = make_case(), _stranger()
    picture = _picture()
    _photo(first, picture)
    _photo(second, picture.crop((40, 20, 460, 340)).resize((320, 244)), quality=45)
    return first, second


def _rows():
    fields = [f.attname for f in Case._meta.concrete_fields]
    return list(Case.objects.order_by("pk").values(*fields))


def test_a_cut_copy_of_a_photo_is_proposed():
    first, second = _pair()

    run_due_jobs()

    (pair,) = list_open_proposals()
    assert [side.case for side in pair.sides] == [first, second]
    assert pair.proposal.probability >= THRESHOLD
    assert pair.proposal.reasons[0]["kind"] == "picture"
    assert pair.proposal.first_photo == first.photos.get()
    assert pair.proposal.second_photo == second.photos.get()


@pytest.mark.parametrize("turned", [False, True])
def test_looking_is_symmetric_and_idempotent(turned):
    """Whichever case is looked at, and however often, there is the same proposal, once."""
    pair = _pair()
    Job.objects.all().delete()
    order = reversed(pair) if turned else pair

    seen = []
    for case in (*order, *pair):
        services.look_for_duplicates(case.pk)
        seen.append(list(Proposal.objects.values("first", "second", "probability", "reasons")))

    services.look_for_duplicates(pair[0].pk)
    assert seen[-1] == seen[1]
    assert len(seen[-1]) == 1
    assert Trace.objects.filter(photo__isnull=False).count() == len(
        set(Trace.objects.filter(photo__isnull=False).values_list("photo", "kind", "value"))
    )


@pytest.mark.parametrize(
    ("scene", "seed", "color"),
    [("layer-shift", 3, "orange"), ("layer-shift", 4, "teal"), ("warped-tray", 3, "teal")],
)
def test_a_merely_similar_photo_is_not_enough(scene, seed, color):
    """Another colour, another stand of the camera, another print before the same one."""
    first, second = make_case(), _stranger()
    _photo(first, _picture())
    _photo(second, _picture(scene, seed, color))

    run_due_jobs()

    assert not Proposal.objects.exists()


def test_the_same_link_is_proposed_whatever_was_tacked_on():
    first = _stranger(link=LINK)
    second = _stranger(story="And this: http://m.club.example/posts/81723/", email="a@b.example")

    run_due_jobs()

    (pair,) = list_open_proposals(second)
    assert [side.case for side in pair.sides] == [second, first]
    assert pair.proposal.reasons[0]["kind"] == "link"


def test_a_forwarded_copy_of_the_words_is_proposed():
    for number in range(12):  # how rare a word is shows only among other stories
        make_case(story=f"Box {number} curls up at its corners.", email=f"box{number}@a.example")
    first = make_case(story=STORY)
    second = _stranger(story=f"Hello, from our list.\n\n> {STORY}\n\nCan you help them?")

    run_due_jobs()

    (pair,) = list_open_proposals()
    assert pair.proposal.reasons[0]["kind"] == "copied"
    assert {side.case for side in pair.sides} == {first, second}


def test_the_same_person_with_another_print_is_not_proposed():
    make_case(story=STORY)
    make_case(story="The corners of my soap dish curl up from the plate after an hour or two.")

    run_due_jobs()

    assert not Proposal.objects.exists()


def test_undoing_an_accepted_pair_restores_both_cases(reviewer):
    _pair()
    run_due_jobs()
    before = _rows()
    proposal = Proposal.objects.get()

    lead = services.accept_proposal(proposal.pk, actor=reviewer)
    assert list(lead.joined.all()) == [proposal.second]
    assert not list_open_proposals()
    services.undo_decision(proposal.pk, actor=reviewer)

    assert _rows() == before
    assert [pair.proposal for pair in list_open_proposals()] == [proposal]


def test_a_pair_is_decided_once(reviewer):
    _pair()
    run_due_jobs()
    proposal = Proposal.objects.get()
    services.refuse_proposal(proposal.pk, actor=reviewer)

    with pytest.raises(WrongStateError, match="decided already"):
        services.accept_proposal(proposal.pk, actor=reviewer)


def test_a_pair_kept_apart_comes_back_for_a_new_photo_only(reviewer):
    first, second = _pair()
    run_due_jobs()
    services.refuse_proposal(Proposal.objects.get().pk, actor=reviewer)

    services.look_for_duplicates(second.pk)
    assert not list_open_proposals()
    _photo(second, _picture("warped-tray", 9, "orange"))
    services.look_for_duplicates(second.pk)
    assert not list_open_proposals()

    _photo(first, _picture("warped-tray", 9, "orange"), quality=70)
    services.look_for_duplicates(first.pk)
    assert [pair.proposal.state for pair in list_open_proposals()] == [ProposalState.OPEN]


def test_erasing_a_person_removes_hashes_and_proposals():
    first, second = _pair()
    run_due_jobs()
    assert Proposal.objects.exists()

    erase_parts(second)
    erase_person(second, by="the person")

    assert not Proposal.objects.exists()
    assert not Trace.objects.filter(case=second).exists()
    assert [kept.photo.case for kept in PhotoPrint.objects.all()] == [first]
    assert services.look_for_duplicates(second.pk) == 0


def test_a_photo_in_flat_colour_is_recognised_by_nothing():
    flat = Image.new("RGB", (400, 300), (90, 90, 90))
    for case in (make_case(), _stranger()):
        _photo(case, flat.rotate(0) if case.pk % 2 else flat.resize((200, 150)))

    run_due_jobs()

    assert not Proposal.objects.exists()


def test_find_likely_looks_up_words_link_and_address():
    case = make_case(story=STORY, link=LINK)
    run_due_jobs()

    assert find_likely(text=f"Seen in the club: {STORY}") == [case]
    assert find_likely(link="http://www.club.example/posts/81723") == [case]
    assert find_likely(address=case.email.upper()) == [case]
    assert find_likely(text="Good morning", link="https://club.example/posts/8") == []
    assert find_likely() == []
