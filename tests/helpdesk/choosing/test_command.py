"""plan_episode from the command line."""

import json

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from helpdesk.choosing import services
from helpdesk.episodes.models import EpisodeState
from tests.helpdesk.choosing.desk import make_show, make_showables

pytestmark = pytest.mark.django_db


def run(capsys, *options):
    call_command("plan_episode", *options)
    return capsys.readouterr().out


def test_lines_name_cases_times_why_and_what_was_displaced(capsys):
    make_showables(9)

    out = run(capsys, "--minutes", "20")

    assert out.startswith("proven optimal: worth ")
    assert "order: the cheapest of all orders" in out
    assert "0:50 to   3:20  case " in out
    assert "It was never shown." in out
    assert "Without it " in out


def test_long_show_says_that_its_order_is_a_near_one(capsys):
    make_showables(12)

    out = run(capsys, "--minutes", "60")

    assert "12 cases" in out
    assert "moved until no single move or exchange pays" in out


def test_json_holds_cases_in_order_with_times_and_reasons(capsys):
    make_showables(9)

    plan = json.loads(run(capsys, "--minutes", "20", "--json"))

    assert plan["status"] == "proven optimal"
    assert plan["objective"] == plan["bound"]
    assert plan["slot_s"] == 1200
    cases = plan["cases"]
    assert [case["in_s"] for case in cases] == sorted(case["in_s"] for case in cases)
    assert all(case["out_s"] - case["in_s"] >= 150 for case in cases)
    assert cases[-1]["out_s"] <= 1200
    assert {"instructive", "rested"} <= {why["reason"] for why in cases[0]["why"]}
    assert cases[0]["displaced"]["sentence"].startswith("Without it")


def test_same_desk_gives_the_same_plan(capsys):
    make_showables(9)

    assert run(capsys, "--minutes", "20", "--json") == run(capsys, "--minutes", "20", "--json")


def test_episode_brings_its_wishes(capsys, producer):
    case, *_ = make_showables(9)
    episode = make_show()
    services.set_wish(episode, case, kind="must", actor=producer)

    plan = json.loads(run(capsys, "--minutes", "7", "--episode", "38", "--json"))

    assert case.pk in [entry["case"] for entry in plan["cases"]]


@pytest.mark.parametrize("minutes", ["0", "-5", "nan", "inf", "361", "1e9", "twenty", ""])
def test_minutes_no_show_has_are_a_matter_of_usage(minutes):
    with pytest.raises(CommandError, match="minutes") as refusal:
        call_command("plan_episode", f"--minutes={minutes}")

    assert refusal.value.returncode == 2


@pytest.mark.parametrize("minutes", ["0.01", "360"])
def test_shortest_and_longest_shows_are_understood(minutes, capsys):
    make_showables(3)

    if minutes == "360":
        assert "3 cases" in run(capsys, "--minutes", minutes)
        return
    with pytest.raises(CommandError, match="Give it ") as refusal:
        run(capsys, "--minutes", minutes)
    assert refusal.value.returncode == 1


def test_nothing_that_fits_says_what_to_relax(capsys):
    make_showables(3)

    with pytest.raises(CommandError, match=r"Nothing fits. Give it 0:20 more") as refusal:
        call_command("plan_episode", "--minutes", "4.5", "--json")

    assert refusal.value.returncode == 1
    plan = json.loads(capsys.readouterr().out)
    assert plan["status"] == "nothing fits"
    assert plan["cases"] == []
    assert len(plan["relax"]) == 1


def test_desk_without_cases_says_that_none_may_be_shown():
    with pytest.raises(CommandError, match="No case may be shown yet") as refusal:
        call_command("plan_episode", "--minutes", "20")

    assert refusal.value.returncode == 1


@pytest.mark.parametrize("state", ["missing", "out"])
def test_episode_that_cannot_be_planned_is_a_matter_of_usage(state):
    if state == "out":
        episode = make_show()
        episode.state = EpisodeState.OUT
        episode.save()

    with pytest.raises(CommandError, match="38") as refusal:
        call_command("plan_episode", "--minutes", "20", "--episode", "38")

    assert refusal.value.returncode == 2
