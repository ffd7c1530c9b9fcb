"""From the letter that asks how it went to an outcome and its step, with JavaScript off."""

import re

import pytest
from playwright.sync_api import expect

from tests.journeys.conftest import Desk, OpenPage, text_of
from tests.journeys.test_axe import _faults_of

pytestmark = pytest.mark.browser
ASK = """
from helpdesk.accounts.models import User
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.diagnosis.services import set_verdict
from helpdesk.followup.services import ask_due_cases
from tests.factories import make_case
imke = User.objects.get(username="imke")
case = make_case(submission_key="letter", title="Tray with lifted corners")
run_due_jobs()
set_verdict(case, ["shrinkage-warp"], actor=imke)
draft = draft_answer(case, imke)
send_answer(draft.pk, draft.version, imke, "mail")
Case.objects.filter(pk=case.pk).update(follow_up_on=clock.today())
ask_due_cases()
run_due_jobs()
"""
CHAT = """
import json
from helpdesk.accounts.models import User
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.diagnosis.services import set_verdict
from helpdesk.followup.links import link_to_tell
from tests.factories import make_case
imke = User.objects.get(username="imke")
chat = {"email": "", "reply_channel": "chat"}
cases = [make_case(**chat, submission_key=f"chat-{n}", handle=f"kiln-{n}") for n in range(3)]
run_due_jobs()
for case in cases:
    set_verdict(case, ["shrinkage-warp"], actor=imke)
    draft = draft_answer(case, imke)
    send_answer(draft.pk, draft.version, imke, "chat")
Case.objects.filter(pk__in=[c.pk for c in cases]).update(follow_up_on=clock.today())
print(json.dumps({"link": link_to_tell(cases[0])}))
"""
OUTCOMES = """
SELECT result, remedy, state FROM cases_outcome JOIN cases_case ON cases_case.id = case_id
WHERE reply_channel = 'mail'
"""
LINE = re.compile(r"^- (?P<words>[^:]+): (?P<link>http://\S+/how/\S+)$", re.MULTILINE)


def test_one_press_without_script(desk: Desk, open_page: OpenPage) -> None:
    """Every link of the letter is opened first, as some programs do; only the press counts."""
    desk.run(ASK)
    letter = desk.post.wait_for("How did it go?")
    links = dict(LINE.findall(text_of(letter)))
    assert list(links) == [
        "It worked",
        "It helped a little",
        "It did not work",
        "I have not tried it yet",
        "I have given it up",
    ]

    page = open_page(links["It did not work"], java_script_enabled=False)
    for link in links.values():
        page.goto(link)
    assert desk.rows(OUTCOMES) == []

    page.goto(links["It worked"])
    expect(page.get_by_role("button")).to_have_count(1)
    page.get_by_role("button", name="It worked").click()
    expect(page.locator("main")).to_contain_text("Thank you, kept on")
    assert [row[:2] for row in desk.rows(OUTCOMES)] == [("worked", "")]

    page.get_by_role("heading", name="Which step did it?").wait_for()
    first = page.locator("main form button").first
    first.focus()
    page.keyboard.press("Enter")
    expect(page.locator("main")).not_to_contain_text("Which step did it?")
    [(result, remedy, state)] = desk.rows(OUTCOMES)
    assert (result, bool(remedy), state) == ("worked", True, "closed")


def test_pages_of_follow_up_bar_nobody(desk: Desk, open_page: OpenPage) -> None:
    """The page of a link before and after the press, and the list of a reviewer, by keys."""
    address = desk.run(CHAT)["link"]
    page = open_page(address)
    faults = _faults_of(page)
    page.get_by_role("button", name="It helped a little").click()
    page.get_by_role("heading", name="Which step did it?").wait_for()
    faults += _faults_of(page)

    page = open_page("/follow-ups", who="imke")
    faults += _faults_of(page)
    assert faults == []
    for number in (2, 1):
        expect(page.locator("#due-rows article")).to_have_count(number)
        page.keyboard.press("j")
        page.keyboard.press("a")
    expect(page.locator("#due-rows")).to_contain_text("Nobody has to be asked by hand today")
