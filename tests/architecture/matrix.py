"""Who may do what: one row for every address of the project.

The suite fails when an address has no row, or a row no address. Django's admin is one row of its
own: it lets nobody in but accounts marked as staff.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from helpdesk.followup.links import make_token as make_outcome_token
from tests.architecture.world import DRAFT_KEY, FAULT, World, make_picture

Values = Callable[[World], Mapping[str, Any]]

IDENTITIES = ("anonymous", "no role", "reviewer", "producer", "admin")
PUBLIC = frozenset(IDENTITIES)  # with a token or a key where the address asks for one
STAFF = PUBLIC - {"anonymous"}
DESK = frozenset({"reviewer", "producer", "admin"})
REVIEWER = frozenset({"reviewer", "admin"})
PRODUCER = frozenset({"producer", "admin"})
ADMIN = frozenset({"admin"})


def _nothing(world: World) -> Mapping[str, Any]:
    return {}


@dataclass(frozen=True)
class Row:
    """An address, who may use it, what it takes, and forgeries that must answer 404."""

    who: frozenset[str]
    get: bool = True
    post: Values | None = None
    at: Values = _nothing
    forged_at: tuple[Values, ...] = ()
    forged_post: tuple[Values, ...] = ()
    is_private: bool = True  # no-store and noindex
    code: int | None = None  # what the allowed get for the POST, where it is one thing
    get_code: int | None = None  # the same for the GET
    has_token: bool = True  # a POST needs the form's token; not where a signature decides


def _case(w: World) -> Mapping[str, Any]:
    return {"number": w.case.pk}


def _other(w: World) -> Mapping[str, Any]:
    return {"number": w.other.pk}


def _no_case(w: World) -> Mapping[str, Any]:
    return {"number": 999_999}


def _token(w: World) -> Mapping[str, Any]:
    return {"token": w.token}


def _no_token(w: World) -> Mapping[str, Any]:
    return {"token": w.token[:-1] + ("A" if w.token[-1] != "A" else "B")}


def _episode(w: World) -> Mapping[str, Any]:
    return {"number": w.episode.number}


def _no_episode(w: World) -> Mapping[str, Any]:
    return {"number": 99}


def _text(w: World) -> Mapping[str, Any]:
    return {"number": w.episode.number, "place": 1}


def _no_text(w: World) -> Mapping[str, Any]:
    return {"number": w.episode.number, "place": 99}


def _supporter(w: World) -> Mapping[str, Any]:
    return {"supporter_id": w.supporter.pk}


def _no_supporter(w: World) -> Mapping[str, Any]:
    return {"supporter_id": 999_999}


def _subject(w: World) -> Mapping[str, Any]:
    return {"subject_id": w.subject.pk}


def _no_subject(w: World) -> Mapping[str, Any]:
    return {"subject_id": 999_999}


def _statement(w: World) -> Mapping[str, Any]:
    return {"statement_id": w.statement.pk}


def _no_statement(w: World) -> Mapping[str, Any]:
    return {"statement_id": 999_999}


def _statement_row(who: frozenset[str]) -> Row:
    return Row(who, get=False, post=_nothing, at=_statement, forged_at=(_no_statement,), code=422)


def _notice(w: World) -> Mapping[str, Any]:
    return {"notice_id": w.supply_notice.pk}


def _no_notice(w: World) -> Mapping[str, Any]:
    return {"notice_id": 999_999}


def _part(w: World) -> Mapping[str, Any]:
    return {"number": w.episode.number, "part": w.part.pk}


def _part_of_other(w: World) -> Mapping[str, Any]:
    return {"number": w.episode.number, "part": w.other_part.pk}


def _case_row(post: Values, code: int | None = None) -> Row:
    return Row(REVIEWER, get=False, post=post, at=_case, forged_at=(_no_case,), code=code)


def _draft_row(post: Values | None = None) -> Row:
    """Return a row about the draft of the other case, from where the first is out of reach."""

    def own(w: World) -> Mapping[str, Any]:
        more = post(w) if post else {}
        return {"answer": w.other_answer.pk, "version": w.other_answer.version, **more}

    def forged(w: World) -> Mapping[str, Any]:
        return {**own(w), "answer": w.answer.pk}

    return Row(
        REVIEWER, get=False, post=own, at=_other, forged_at=(_no_case,), forged_post=(forged,)
    )


def _published(w: World) -> Mapping[str, Any]:
    return {"answer": w.answer.pk, "version": w.answer.version}


def _hook_row(
    pk: Callable[[World], int | None], *, code: int = 302, get: bool = False, **more: str
) -> Row:
    return Row(
        ADMIN,
        get=get,
        post=_nothing,
        at=lambda w: {"pk": pk(w), **more},
        forged_at=(lambda w: {"pk": 999_999, **more},),
        code=code,
    )


def _api_row(*, is_read: bool = False, **at: str) -> Row:
    """Return a row of the API: a log-in opens nothing there, and nobody of these has a token."""
    post = None if is_read else _nothing
    return Row(
        PUBLIC,
        get=is_read,
        post=post,
        at=lambda w: at,
        get_code=401,
        code=401,
        has_token=False,
    )


def _answer_of_other(w: World) -> Mapping[str, Any]:
    return {"answer": w.other_answer.pk, "version": w.other_answer.version}


def _person(w: World) -> Mapping[str, Any]:
    return {"person_id": w.merge.kept_id}


def _nobody(w: World) -> Mapping[str, Any]:
    return {"person_id": 999_999}


def _contact(w: World) -> Mapping[str, Any]:
    return {**_person(w), "contact_id": w.merge.kept.contacts.earliest("pk").pk}


def _no_contact(w: World) -> Mapping[str, Any]:
    return {**_contact(w), "person_id": w.merge.gone_id}


def _passed_on(w: World) -> Mapping[str, Any]:
    return {"number": w.passed_on.pk}


def _letter_in(w: World) -> Mapping[str, Any]:
    return {"mail_id": w.letter_in.pk}


def _no_letter(w: World) -> Mapping[str, Any]:
    return {"mail_id": 999_999}


def _letter_row(post: Values) -> Row:
    return Row(REVIEWER, get=False, post=post, at=_letter_in, forged_at=(_no_letter,), code=302)


MATRIX: dict[str, Row] = {
    "home": Row(PUBLIC),
    "alive": Row(PUBLIC),
    "privacy": Row(PUBLIC),
    "help_public": Row(PUBLIC),
    "help_desk": Row(STAFF),
    "intake:report": Row(PUBLIC, post=_nothing, code=422, is_private=False),
    "intake:understood": Row(
        PUBLIC, get=False, post=lambda w: {"story": "The corners lift off the plate."}, code=200
    ),
    "intake:upload_photo": Row(
        PUBLIC,
        get=False,
        post=lambda w: {"draft_key": DRAFT_KEY, "photo": make_picture(96)},
        code=200,
    ),
    "intake:remove_draft_photo": Row(
        PUBLIC,
        get=False,
        post=lambda w: {"draft_key": DRAFT_KEY, "remove": w.draft_photo.pk},
        code=204,
    ),
    "intake:draft_photo": Row(
        PUBLIC,
        at=lambda w: {"draft_key": DRAFT_KEY, "photo_id": w.draft_photo.pk},
        forged_at=(
            lambda w: {"draft_key": DRAFT_KEY[::-1], "photo_id": w.draft_photo.pk},
            lambda w: {"draft_key": DRAFT_KEY, "photo_id": w.photo.pk},
            lambda w: {"draft_key": DRAFT_KEY, "photo_id": 999_999},
        ),
    ),
    "intake:new_link": Row(PUBLIC, post=lambda w: {"email": "who@tarnstreet.example"}, code=302),
    "intake:link_sent": Row(PUBLIC),
    "intake:erased": Row(PUBLIC),
    "intake:track": Row(PUBLIC, at=_token, forged_at=(_no_token,)),
    "intake:reply": Row(
        PUBLIC,
        get=False,
        post=lambda w: {"words": "It is a new nozzle."},
        at=_token,
        forged_at=(_no_token,),
        code=302,
    ),
    "intake:outcome": Row(
        PUBLIC,
        get=False,
        post=lambda w: {"result": "worked"},
        at=_token,
        forged_at=(_no_token,),
        code=302,
    ),
    "intake:consent": Row(
        PUBLIC,
        post=lambda w: {"credit_kind": "anonymous", "age": "over"},
        at=_token,
        forged_at=(_no_token,),
        code=302,
    ),
    "intake:erase": Row(PUBLIC, post=_nothing, at=_token, forged_at=(_no_token,)),
    "intake:track_photo": Row(
        PUBLIC,
        at=lambda w: {"token": w.token, "photo_id": w.photo.pk, "size": "thumb"},
        forged_at=(
            lambda w: {"token": w.token, "photo_id": w.other_photo.pk, "size": "thumb"},
            lambda w: {"token": w.other_token, "photo_id": w.photo.pk, "size": "thumb"},
            lambda w: {"token": w.token, "photo_id": w.draft_photo.pk, "size": "thumb"},
            lambda w: {"token": w.token, "photo_id": w.photo.pk, "size": "huge"},
        ),
    ),
    "review:queue": Row(DESK),
    "review:take_next": Row(REVIEWER, get=False, post=_nothing, code=302),
    "review:case": Row(DESK, at=_case, forged_at=(_no_case,)),
    "review:claim": _case_row(_nothing, 302),
    "review:hand_on": _case_row(lambda w: {"why": "Somebody else knows this printer."}, 302),
    "review:put_back": _case_row(_nothing),
    "review:read_facts": _case_row(_nothing),
    "review:facts": _case_row(lambda w: {"version": w.case.version, "machine": "Corvid C1"}),
    "review:mark_finding": _case_row(lambda w: {"finding": "layer-shift", "state": "absent"}),
    "review:correct_reading": _case_row(
        lambda w: {"kind": "finding", "name": "corners-lifted", "say": "wrong"}, 302
    ),
    "review:note_words": _case_row(
        lambda w: {"noted": "corners of my box", "finding": "layer-shift", "say": "present"}
    ),
    "review:verdict": _case_row(lambda w: {"fault": FAULT, "step": "add"}),
    "review:numbers": Row(
        DESK,
        at=lambda w: {**_case(w), "fault": FAULT},
        forged_at=(
            lambda w: {**_no_case(w), "fault": FAULT},
            lambda w: {**_case(w), "fault": "no-such-fault"},
        ),
    ),
    "review:respondent": _case_row(lambda w: {"has_print": "on"}, 302),
    "review:ask": _case_row(lambda w: {"words": "Could you look at the belt?"}, 302),
    "review:note": _case_row(lambda w: {"body": "Seen on the bench."}, 302),
    "review:outcome": _case_row(lambda w: {"result": "worked"}, 302),
    "review:reveal": Row(DESK, get=False, post=_nothing, at=_case, forged_at=(_no_case,), code=200),
    "review:close": _case_row(lambda w: {"why": "Done."}, 302),
    "review:reopen": _case_row(_nothing),
    "answers:panel": Row(DESK, at=_case, forged_at=(_no_case,)),
    "answers:draft": Row(REVIEWER, get=False, post=_nothing, at=_case, forged_at=(_no_case,)),
    "answers:save": _draft_row(lambda w: {"body": "Please look at the belt."}),
    "answers:preview": _draft_row(lambda w: {"body": "Please look at the belt."}),
    "answers:send": _draft_row(lambda w: {"body": "Please look at the belt."}),
    "answers:sent_elsewhere": _draft_row(lambda w: {"via": "chat"}),
    "answers:publish": Row(
        REVIEWER,
        get=False,
        post=_published,
        at=_case,
        forged_at=(_no_case,),
        forged_post=(_answer_of_other,),
        code=422,
    ),
    "answers:unpublish": Row(
        REVIEWER,
        get=False,
        post=_published,
        at=_case,
        forged_at=(_no_case,),
        forged_post=(_answer_of_other,),
        code=302,
    ),
    "answers:library": Row(PUBLIC, is_private=False),
    "answers:published": Row(
        PUBLIC,
        at=lambda w: {"answer_id": w.answer.pk},
        forged_at=(lambda w: {"answer_id": w.other_answer.pk}, lambda w: {"answer_id": 999_999}),
        is_private=False,
    ),
    "answers:photo": Row(
        PUBLIC,
        at=lambda w: {"answer_id": w.answer.pk, "photo_id": w.photo.pk, "size": "thumb"},
        forged_at=(
            lambda w: {"answer_id": w.answer.pk, "photo_id": w.other_photo.pk, "size": "thumb"},
            lambda w: {"answer_id": w.other_answer.pk, "photo_id": w.photo.pk, "size": "thumb"},
            lambda w: {"answer_id": w.answer.pk, "photo_id": w.photo.pk, "size": "original"},
        ),
        is_private=False,
    ),
    "printfiles:file": Row(
        DESK, at=lambda w: {"file_id": w.case_file.pk}, forged_at=(lambda w: {"file_id": 0},)
    ),
    "photos:photo": Row(
        DESK,
        at=lambda w: {"photo_id": w.photo.pk, "size": "web"},
        forged_at=(
            lambda w: {"photo_id": w.draft_photo.pk, "size": "web"},
            lambda w: {"photo_id": w.photo.pk, "size": "original"},  # not kept
            lambda w: {"photo_id": w.photo.pk, "size": "huge"},
        ),
    ),
    "search:search": Row(DESK),
    "search:quick": Row(DESK),
    "search:similar": Row(DESK, at=_case, forged_at=(_no_case,)),
    "episodes:episodes": Row(DESK),
    "episodes:new_episode": Row(PRODUCER, post=_nothing, code=422),
    "episodes:run_sheet": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "episodes:print_sheet": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "episodes:edit_episode": Row(
        PRODUCER, post=_nothing, at=_episode, forged_at=(_no_episode,), code=422
    ),
    "episodes:add_part": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"kind": "notice", "slug": "A note", "fixed_s": "0:30"},
        at=_episode,
        forged_at=(_no_episode,),
        code=302,
    ),
    "episodes:add_case": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"case": w.other.pk},
        at=_episode,
        forged_at=(_no_episode,),
        forged_post=(lambda w: {"case": 999_999}, lambda w: {"case": "x"}),
        code=302,
    ),
    "episodes:edit_part": Row(
        PRODUCER, post=_nothing, at=_part, forged_at=(_part_of_other,), code=422
    ),
    "episodes:remove_part": Row(
        PRODUCER, get=False, post=_nothing, at=_part, forged_at=(_part_of_other,), code=302
    ),
    "episodes:move_part": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"place": 1, "version": w.episode.version},
        at=_part,
        forged_at=(_part_of_other,),
        code=302,
    ),
    "episodes:mark_out": Row(PRODUCER, post=_nothing, at=_episode, forged_at=(_no_episode,)),
    "episodes:candidate_panel": Row(
        DESK, post=lambda w: {"do": "drop"}, at=_case, forged_at=(_no_case,), code=302
    ),
    "episodes:withdrawals": Row(DESK),
    "episodes:script": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "episodes:sheet_pdf": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "episodes:sheet_table": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "episodes:teases": Row(
        PRODUCER, post=_nothing, at=_episode, forged_at=(_no_episode,), code=422
    ),
    "episodes:kinds": Row(PRODUCER, post=_nothing, code=422),
    "episodes:edit_kind": Row(
        PRODUCER,
        post=_nothing,
        at=lambda w: {"kind": w.part_kind.pk},
        forged_at=(lambda w: {"kind": 999_999},),
        code=422,
    ),
    "episodes:drop_kind": Row(
        PRODUCER,
        get=False,
        post=_nothing,
        at=lambda w: {"kind": w.part_kind.pk},
        forged_at=(lambda w: {"kind": 999_999},),
        code=302,
    ),
    "episodes:see_withdrawal": Row(
        PRODUCER,
        get=False,
        post=_nothing,
        at=lambda w: {"withdrawal_id": w.withdrawal.pk},
        forged_at=(lambda w: {"withdrawal_id": 999_999},),
        code=302,
    ),
    "choosing:weights": Row(PRODUCER, post=_nothing, code=422),
    "choosing:choose": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "choosing:wish": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"case": w.case.pk, "kind": "must"},
        at=_episode,
        forged_at=(_no_episode,),
        forged_post=(lambda w: {"case": 999_999, "kind": "must"},),
        code=302,
    ),
    "choosing:swap": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"out": w.case.pk, "coming": w.other.pk},
        at=_episode,
        forged_at=(_no_episode,),
        forged_post=(lambda w: {"out": w.case.pk, "coming": 999_999},),
        code=302,
    ),
    "choosing:rules": Row(
        PRODUCER, get=False, post=_nothing, at=_episode, forged_at=(_no_episode,), code=422
    ),
    "choosing:put": Row(
        PRODUCER, get=False, post=_nothing, at=_episode, forged_at=(_no_episode,), code=302
    ),
    "aftershow:after_show": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "aftershow:set_air": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"recording_offset_s": "5"},
        at=_episode,
        forged_at=(_no_episode,),
        code=302,
    ),
    "aftershow:set_times": Row(
        PRODUCER, get=False, post=_nothing, at=_episode, forged_at=(_no_episode,), code=422
    ),
    "aftershow:chapters": Row(
        DESK,
        at=lambda w: {**_episode(w), "ending": "vtt"},
        forged_at=(
            lambda w: {**_no_episode(w), "ending": "vtt"},
            lambda w: {**_episode(w), "ending": "pdf"},
        ),
    ),
    "aftershow:add_target": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"target": "Short", "limit_chars": "400"},
        at=_episode,
        forged_at=(_no_episode,),
        code=302,
    ),
    "aftershow:edit_text": Row(PRODUCER, post=_nothing, at=_text, forged_at=(_no_text,), code=422),
    "aftershow:download_text": Row(DESK, at=_text, forged_at=(_no_text,)),
    "aftershow:remove_target": Row(
        PRODUCER, get=False, post=_nothing, at=_text, forged_at=(_no_text,), code=302
    ),
    "aftershow:mark_told": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"case": w.case.pk},
        at=_episode,
        forged_at=(_no_episode,),
        forged_post=(lambda w: {"case": w.other.pk}, lambda w: {"case": "x"}),
        code=302,
    ),
    "aftershow:learn_rates": Row(
        PRODUCER, get=False, post=_nothing, at=_episode, forged_at=(_no_episode,), code=302
    ),
    "aftershow:put_roll": Row(
        PRODUCER, get=False, post=_nothing, at=_episode, forged_at=(_no_episode,), code=302
    ),
    "aftershow:roll": Row(PRODUCER),
    "aftershow:new_supporter": Row(PRODUCER, post=_nothing, code=422),
    "aftershow:supporter": Row(
        PRODUCER, post=_nothing, at=_supporter, forged_at=(_no_supporter,), code=422
    ),
    "aftershow:erase_supporter": Row(
        PRODUCER, get=False, post=_nothing, at=_supporter, forged_at=(_no_supporter,), code=302
    ),
    "aftershow:new_list": Row(PRODUCER, post=_nothing, code=422),
    "aftershow:roll_draft": Row(
        PRODUCER,
        post=lambda w: {"do": "look"},
        at=lambda w: {"draft_id": w.roll_draft.pk},
        forged_at=(lambda w: {"draft_id": 999_999},),
        code=302,
    ),
    "season:season": Row(DESK),
    "season:season_table": Row(DESK),
    "followup:due": Row(REVIEWER),
    "followup:asked": Row(
        REVIEWER, get=False, post=_nothing, at=_case, forged_at=(_no_case,), code=302
    ),
    "followup:heard": _case_row(lambda w: {"result": "untried"}, 302),
    "followup:tell": Row(
        PUBLIC,
        post=lambda w: {"result": "partly"},
        at=lambda w: {"token": make_outcome_token(w.case.pk, "partly")},
        forged_at=(lambda w: {"token": f"{w.case.pk}-739000-partly-{'a' * 16}"},),
        code=302,
        has_token=False,  # its signed address is the proof
    ),
    "mailroom:mailroom": Row(REVIEWER),
    "mailroom:letter": Row(REVIEWER, at=_letter_in, forged_at=(_no_letter,)),
    "mailroom:raw": Row(REVIEWER, at=_letter_in, forged_at=(_no_letter,)),
    "mailroom:belongs": _letter_row(lambda w: {"case": w.case.pk}),
    "mailroom:new_case": _letter_row(_nothing),
    "mailroom:again": _letter_row(_nothing),
    "mailroom:dismiss": _letter_row(_nothing),
    "mailroom:case_letters": Row(REVIEWER, at=_case, forged_at=(_no_case,)),
    "outbox:outbox": Row(ADMIN),
    "outbox:letter": Row(
        ADMIN,
        post=_nothing,
        at=lambda w: {"mail_id": w.mail.pk},
        forged_at=(lambda w: {"mail_id": 999_999},),
        code=200,
    ),
    "outbox:notices": Row(
        PUBLIC,
        post=_nothing,
        at=lambda w: {"token": w.notices},
        forged_at=(lambda w: {"token": "1-aaaaaaaaaaaaaaaa"},),
        code=200,
        has_token=False,  # a mail program posts here (RFC 8058)
    ),
    "outbox:retry": Row(
        ADMIN,
        get=False,
        post=_nothing,
        at=lambda w: {"job_id": w.job.pk},
        forged_at=(lambda w: {"job_id": 999_999},),
        code=302,
    ),
    "hooks:hooks": Row(ADMIN),
    "hooks:receive": Row(
        PUBLIC,
        get=False,
        post=_nothing,
        at=lambda w: {"public_id": w.hook_source.public_id},
        forged_at=(lambda w: {"public_id": "nobody"},),
        code=401,  # nobody of these signs
        has_token=False,
    ),
    "hooks:new_source": Row(ADMIN, post=_nothing, code=422),
    "hooks:source": _hook_row(lambda w: w.hook_target.source_id, code=422, get=True),
    "hooks:new_target": Row(ADMIN, post=_nothing, code=422),
    "hooks:target": _hook_row(lambda w: w.hook_target.pk, code=422, get=True),
    "hooks:try_target": _hook_row(lambda w: w.hook_target.pk),
    "hooks:send_range": _hook_row(lambda w: w.hook_target.pk, code=422),
    "hooks:new_secret": _hook_row(lambda w: w.hook_target.pk, party="targets"),
    "hooks:switch": _hook_row(lambda w: w.hook_target.source_id, party="sources"),
    "hooks:delivery": Row(
        ADMIN,
        at=lambda w: {"pk": w.hook_target.deliveries.get().pk},
        forged_at=(lambda w: {"pk": 999_999},),
    ),
    "hooks:send_again": _hook_row(lambda w: w.hook_target.deliveries.get().pk),
    "api:guide": Row(PUBLIC, is_private=False),
    "api:problem": Row(
        PUBLIC,
        at=lambda w: {"name": "invalid"},
        forged_at=(lambda w: {"name": "nothing"},),
        is_private=False,
    ),
    "api:description": Row(PUBLIC, is_private=False),
    "api:tokens": Row(ADMIN, post=_nothing, code=422),
    "api:token": Row(
        ADMIN, at=lambda w: {"pk": w.api_token.pk}, forged_at=(lambda w: {"pk": 999_999},)
    ),
    "api:revoke": Row(
        ADMIN,
        get=False,
        post=_nothing,
        at=lambda w: {"pk": w.api_token.pk},
        forged_at=(lambda w: {"pk": 999_999},),
        code=302,
    ),
    "api:uploads": _api_row(),
    "api:reports": _api_row(),
    "api:inbox": _api_row(),
    "api:replies": _api_row(ref="a" * 22),
    "api:outcome": _api_row(ref="a" * 22),
    "api:case": _api_row(is_read=True, ref="a" * 22),
    "api:events": _api_row(is_read=True),
    "api:answers": _api_row(is_read=True),
    "api:nothing_here": Row(
        PUBLIC, post=_nothing, at=lambda w: {"rest": "no"}, get_code=404, code=404, has_token=False
    ),
    "learning:learning": Row(ADMIN),
    "learning:learn": Row(ADMIN, get=False, post=_nothing, code=302),
    "learning:compare": Row(ADMIN),
    "learning:revision": Row(
        ADMIN,
        at=lambda w: {"number": w.revision.number},
        forged_at=(lambda w: {"number": 999_999},),
    ),
    "learning:switch": Row(
        ADMIN,
        post=lambda w: {"why": "It foresees better."},
        at=lambda w: {"number": w.revision.number},
        forged_at=(lambda w: {"number": 999_999},),
        code=302,
    ),
    "agreement:second_looks": Row(REVIEWER),
    "agreement:agreement": Row(REVIEWER),
    "agreement:second_look": Row(
        REVIEWER,
        post=lambda w: {"main": "belt-loose", "is_blind": "on"},
        at=_case,
        forged_at=(_no_case,),
    ),
    "agreement:close_look": _case_row(_nothing, 302),
    "agreement:ask_look": _case_row(_nothing, 302),
    "duplicates:proposals": Row(REVIEWER),
    "duplicates:likely": Row(REVIEWER),
    "duplicates:panel": Row(DESK, at=_case, forged_at=(_no_case,)),
    "duplicates:decide": Row(
        REVIEWER,
        get=False,
        post=lambda w: {"answer": "apart"},
        at=lambda w: {"proposal": w.proposal.pk},
        forged_at=(lambda w: {"proposal": 999_999},),
        code=302,
    ),
    "duplicates:undo": Row(
        REVIEWER,
        get=False,
        post=_nothing,
        at=lambda w: {"proposal": w.proposal.pk},
        forged_at=(lambda w: {"proposal": 999_999},),
        code=302,
    ),
    "duplicates:join": _case_row(lambda w: {"into": w.other.pk}, 302),
    "duplicates:part": _case_row(_nothing, 302),
    "agreement:case_looks": Row(DESK, at=_case, forged_at=(_no_case,)),
    "people:people": Row(REVIEWER),
    "people:person": Row(REVIEWER, post=_nothing, at=_person, forged_at=(_nobody,), code=302),
    "people:reveal": Row(
        REVIEWER, get=False, post=_nothing, at=_person, forged_at=(_nobody,), code=200
    ),
    "people:check_contact": Row(
        REVIEWER, get=False, post=_nothing, at=_contact, forged_at=(_no_contact,), code=302
    ),
    "people:split": Row(
        REVIEWER, get=False, post=_nothing, at=_contact, forged_at=(_no_contact,), code=302
    ),
    "people:merge": Row(
        REVIEWER, post=lambda w: {"gone": 999_999}, at=_person, forged_at=(_nobody,), code=422
    ),
    "people:undo_merge": Row(
        REVIEWER,
        get=False,
        post=_nothing,
        at=lambda w: {"merge_id": w.merge.pk},
        forged_at=(lambda w: {"merge_id": 999_999},),
        code=302,
    ),
    "people:case_panel": Row(DESK, at=_case, forged_at=(_no_case,)),
    "people:credit_owner": Row(
        REVIEWER, get=False, post=_nothing, at=_passed_on, forged_at=(_case,), code=422
    ),
    "conversation:conversation": Row(DESK, at=_case, forged_at=(_no_case,)),
    "conversation:send_again": Row(
        REVIEWER,
        get=False,
        post=_nothing,
        at=lambda w: {**_case(w), "mail_id": w.lost_mail.pk},
        forged_at=(
            lambda w: {**_no_case(w), "mail_id": w.lost_mail.pk},
            lambda w: {**_other(w), "mail_id": w.lost_mail.pk},
            lambda w: {**_case(w), "mail_id": w.mail.pk},
        ),
        code=302,
    ),
    "conversation:copy_texts": Row(REVIEWER, at=_case, forged_at=(_no_case,)),
    "conversation:texts": Row(ADMIN),
    "conversation:new_text": Row(ADMIN, post=_nothing, code=422),
    "conversation:preview_text": Row(
        ADMIN, get=False, post=lambda w: {"body": "Hello {first_name}"}, code=200
    ),
    "conversation:edit_text": Row(
        ADMIN,
        post=_nothing,
        at=lambda w: {"text_id": w.text.pk},
        forged_at=(lambda w: {"text_id": 999_999},),
        code=422,
    ),
    "conversation:drop_text": Row(
        ADMIN,
        get=False,
        post=lambda w: {"version": 1},
        at=lambda w: {"text_id": w.text.pk},
        forged_at=(lambda w: {"text_id": 999_999},),
        code=302,
    ),
    "capture:paste": Row(REVIEWER, post=_nothing, code=422),
    "capture:look": Row(
        REVIEWER, get=False, post=lambda w: {"words": "The corners lift off the plate."}, code=200
    ),
    "keeping:consents": Row(DESK, at=_case, forged_at=(_no_case,)),
    "keeping:keep_told": _case_row(_nothing, 422),
    "keeping:copy_case": _case_row(_nothing, 200),
    "keeping:copy_person": Row(
        REVIEWER, get=False, post=_nothing, at=_person, forged_at=(_nobody,), code=200
    ),
    "keeping:erase_case": Row(REVIEWER, post=_nothing, at=_case, forged_at=(_no_case,), code=422),
    "keeping:erase_person": Row(
        REVIEWER, post=_nothing, at=_person, forged_at=(_nobody,), code=422
    ),
    "keeping:removals": Row(ADMIN),
    "intake:copy": Row(
        PUBLIC, get=False, post=_nothing, at=_token, forged_at=(_no_token,), code=200
    ),
    "week:week": Row(DESK),
    "week:week_table": Row(DESK),
    "capture:table": Row(REVIEWER, post=_nothing, code=422),
    "capture:table_import": Row(
        REVIEWER,
        post=lambda w: {"column_0": "story", "channel": "chat", "do": "look"},
        at=lambda w: {"table_id": w.table.pk},
        forged_at=(lambda w: {"table_id": 999_999},),
        code=302,
    ),
    "capture:table_refused": Row(
        REVIEWER,
        at=lambda w: {"table_id": w.table.pk},
        forged_at=(lambda w: {"table_id": 999_999},),
    ),
    "archive:archive": Row(DESK),
    "archive:uploads": Row(PRODUCER),
    "archive:upload": Row(PRODUCER, get=False, post=_nothing, code=422),
    "archive:show": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "archive:captions": Row(DESK, at=_episode, forged_at=(_no_episode,)),
    "archive:facts": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"title": "Corners"},
        at=_episode,
        forged_at=(_no_episode,),
        code=302,
    ),
    "archive:remove": Row(
        PRODUCER, get=False, post=_nothing, at=_episode, forged_at=(_no_episode,), code=302
    ),
    "archive:correct": Row(
        PRODUCER,
        get=False,
        post=lambda w: {"do": "right", "version": w.archived.version},
        at=_episode,
        forged_at=(_no_episode,),
        code=302,
    ),
    "supply:subjects": Row(DESK),
    "supply:new_subject": Row(DESK, post=_nothing, code=422),
    "supply:subject": Row(DESK, at=_subject, forged_at=(_no_subject,)),
    "supply:edit_subject": Row(
        DESK, post=_nothing, at=_subject, forged_at=(_no_subject,), code=422
    ),
    "supply:link": Row(
        DESK, get=False, post=_nothing, at=_subject, forged_at=(_no_subject,), code=422
    ),
    "supply:unlink": Row(
        DESK,
        get=False,
        post=_nothing,
        at=lambda w: {"subject_id": w.subject.pk, "number": w.case.pk},
        forged_at=(
            lambda w: {"subject_id": 999_999, "number": w.case.pk},
            lambda w: {"subject_id": w.subject.pk, "number": 999_999},
        ),
        code=302,
    ),
    "supply:corrections": Row(DESK),
    "supply:new_correction": Row(DESK, post=_nothing, code=422),
    "supply:withdraw_correction": Row(
        DESK,
        get=False,
        post=_nothing,
        at=lambda w: {"remark_id": w.remark.pk},
        forged_at=(lambda w: {"remark_id": 999_999},),
        code=422,
    ),
    "supply:case_panel": Row(DESK, at=_case, forged_at=(_no_case,)),
    "supply:answer_mentions": Row(DESK, at=_case, forged_at=(_no_case,)),
    "supply:new_statement": Row(DESK, post=_nothing, at=_case, forged_at=(_no_case,), code=422),
    "supply:nothing_adverse": Row(
        DESK, get=False, post=_nothing, at=_case, forged_at=(_no_case,), code=302
    ),
    "supply:statement": Row(DESK, at=_statement, forged_at=(_no_statement,)),
    "supply:change_statement": _statement_row(DESK),
    "supply:drop_statement": _statement_row(DESK),
    "supply:add_picture": _statement_row(DESK),
    "supply:drop_picture": Row(
        DESK,
        get=False,
        post=_nothing,
        at=lambda w: {"statement_id": w.statement.pk, "picture_id": w.evidence.pk},
        forged_at=(lambda w: {"statement_id": 999_999, "picture_id": w.evidence.pk},),
        code=302,
    ),
    "supply:ask_reply": _statement_row(DESK),
    "supply:record_reply": _statement_row(DESK),
    "supply:let_stand": _statement_row(PRODUCER),
    "supply:new_notice": Row(DESK, post=_nothing, at=_subject, forged_at=(_no_subject,), code=422),
    "supply:notice": Row(DESK, at=_notice, forged_at=(_no_notice,)),
    "supply:edit_notice": Row(DESK, post=_nothing, at=_notice, forged_at=(_no_notice,), code=422),
    "supply:ready": Row(
        PRODUCER, get=False, post=_nothing, at=_notice, forged_at=(_no_notice,), code=422
    ),
    "supply:withdraw": Row(
        DESK, get=False, post=_nothing, at=_notice, forged_at=(_no_notice,), code=422
    ),
    "supply:public_notices": Row(PUBLIC, is_private=False),
    "supply:public_photo": Row(
        PUBLIC,
        at=lambda w: {
            "notice_id": w.public_notice.pk,
            "photo_id": w.supply_photo.pk,
            "size": "web",
        },
        forged_at=(
            lambda w: {
                "notice_id": w.supply_notice.pk,
                "photo_id": w.supply_photo.pk,
                "size": "web",
            },
            lambda w: {
                "notice_id": w.public_notice.pk,
                "photo_id": w.other_photo.pk,
                "size": "web",
            },
        ),
        is_private=False,
    ),
    "presenting:present": Row(PRODUCER, at=_episode, forged_at=(_no_episode,)),
    "presenting:state": Row(PRODUCER, at=_episode, forged_at=(_no_episode,)),
    "presenting:time": Row(PRODUCER, at=_episode),
    "presenting:worker": Row(PRODUCER, at=_episode, forged_at=(_no_episode,)),
    "presenting:events": Row(
        PRODUCER, get=False, post=_nothing, at=_episode, forged_at=(_no_episode,), code=400
    ),
    "presenting:marks": Row(
        PRODUCER,
        post=lambda w: {"photo": w.photo.pk},
        at=_episode,
        forged_at=(_no_episode,),
        forged_post=(lambda w: {"photo": w.other_photo.pk},),
        code=422,
    ),
    "accounts:login": Row(PUBLIC, post=_nothing, code=None),
    "accounts:logout": Row(STAFF, get=False, post=_nothing, code=302),
    "accounts:own_settings": Row(STAFF, post=lambda w: {"spoken_name": "Immy"}, code=302),
}
