"""Reading the knowledge folder: what is accepted, and how a mistake is reported."""

from pathlib import Path

import numpy as np
import pytest

from tests.triage.folder import write_folder
from triage.errors import KnowledgeError, Problem
from triage.knowledge import Link, Phrases, check_knowledge, load_knowledge


def problems_of(folder: Path) -> list[str]:
    """Return what loading a folder complains about."""
    with pytest.raises(KnowledgeError) as caught:
        load_knowledge(folder)
    return [str(problem) for problem in caught.value.problems]


def test_folder_is_read_whole(tmp_path: Path) -> None:
    """Every kind of entry arrives, in the order of the files."""
    knowledge = load_knowledge(write_folder(tmp_path))

    assert list(knowledge.faults) == [
        "wiring-overheated",
        "resin-under-exposed",
        "shrinkage-warp",
        "filament-wet",
    ]
    assert knowledge.findings["popping-sounds"].needs == ("a quiet room",)
    assert knowledge.findings["brown-plug"].danger == "scorched-plug"
    assert knowledge.risks["open-spool"].odds == {"filament-wet": 3.0}
    assert knowledge.actions["dry-filament"].wait_minutes == 300.0
    assert knowledge.materials["PLA"].nozzle_c == (190.0, 220.0)
    assert knowledge.cautions["unplug-first"].danger
    assert knowledge.phrases["finding"]["corners-lifted"] == Phrases(
        ("corner* .. lift*/curl*", "warp*")
    )
    assert knowledge.files["fault filament-wet"] == "faults/thermal.toml"
    assert check_knowledge(knowledge) == ()


def test_links_take_the_table_source_unless_they_have_their_own(tmp_path: Path) -> None:
    """A link may override the source of its table."""
    links = load_knowledge(write_folder(tmp_path)).links

    assert Link("filament-wet", "fine-strings", 0.7, "memory") in links
    assert Link("filament-wet", "popping-sounds", 0.6, "common-practice") in links


def test_number_tables_agree_with_the_entries(tmp_path: Path) -> None:
    """The network's arrays hold priors, leaks, links and cures where their ids say."""
    knowledge = load_knowledge(write_folder(tmp_path))
    network = knowledge.network

    wet, strings = network.fault_at["filament-wet"], network.finding_at["fine-strings"]
    assert network.prior[wet] == 0.08
    assert network.leak[strings] == 0.05
    assert network.link[wet, strings] == 0.7
    assert network.cure[network.action_at["dry-filament"], wet] == 0.85
    assert network.link.sum() == pytest.approx(0.85 + 0.7 + 0.6 + 0.8 + 0.8)
    causes = network.causes
    assert causes.at[strings, 0] == wet
    assert causes.value[strings, 0] == 0.7
    assert network.dangerous == {network.finding_at["brown-plug"]: "scorched-plug"}
    assert network.occurs["VPP"].tolist() == [True, True, False, False]
    assert network.shows["VPP"].tolist() == [False, False, False, True, True]


def test_number_tables_are_read_only(tmp_path: Path) -> None:
    """Nobody can change the shared tables by accident."""
    network = load_knowledge(write_folder(tmp_path)).network

    for table in (network.prior, network.leak, network.link, network.cure, network.causes.value):
        assert isinstance(table, np.ndarray)
        with pytest.raises(ValueError, match="read-only"):
            table[:] = 0.5


def test_version_follows_the_content(tmp_path: Path) -> None:
    """The same files give the same version, a changed number another."""
    first = load_knowledge(write_folder(tmp_path / "a"))
    same = load_knowledge(write_folder(tmp_path / "b"))
    other = load_knowledge(write_folder(tmp_path / "c", swaps={"prior = 0.08": "prior = 0.09"}))

    assert first.version == same.version
    assert first.version != other.version


def test_phrases_of_one_subject_in_two_files_are_joined(tmp_path: Path) -> None:
    """Two people may add patterns for the same finding."""
    more = '[finding.fine-strings]\npresent = ["hairs"]\nabsent = ["clean travels"]\n'

    knowledge = load_knowledge(write_folder(tmp_path, {"phrases/more.toml": more}))

    expected = Phrases(("string*", "hairs"), ("clean travels",))
    assert knowledge.phrases["finding"]["fine-strings"] == expected


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        (
            'family = "material"',
            'famly = "material"',
            "faults/thermal.toml: fault filament-wet: famly: unknown key; "
            "the nearest valid name is 'family'",
        ),
        (
            'family = "material"',
            "",
            "faults/thermal.toml: fault filament-wet: family: this key is missing",
        ),
        (
            "prior = 0.08",
            "prior = 1.0",
            "faults/thermal.toml: fault filament-wet: prior: "
            "1 must lie between 0 and 1, neither included",
        ),
        (
            "prior = 0.08",
            'prior = "often"',
            "faults/thermal.toml: fault filament-wet: prior: 'often' must be a number",
        ),
        (
            "prior = 0.08",
            "prior = nan",
            "faults/thermal.toml: fault filament-wet: prior: nan must be a number",
        ),
        (
            "prior = 0.08",
            "prior = true",
            "faults/thermal.toml: fault filament-wet: prior: True must be a number",
        ),
        (
            'id = "filament-wet"',
            'id = "Filament wet"',
            "faults/thermal.toml: fault Filament wet: id: "
            "'Filament wet' must be lower-case words joined by hyphens",
        ),
        (
            'id = "filament-wet"',
            "",
            "faults/thermal.toml: fault number 2: id: this key is missing",
        ),
        (
            'id = "filament-wet"',
            'id = "shrinkage-warp"',
            "faults/thermal.toml: fault shrinkage-warp: "
            "this id is already taken in faults/thermal.toml",
        ),
        (
            'id = "dry-filament"\nkind = "remedy"',
            'id = "dry-filament"\nkind = "cure"',
            "actions/all.toml: action dry-filament: kind: "
            "'cure' must be one of safety, check, remedy, last-resort",
        ),
        (
            "wait_minutes = 300",
            "wait_minutes = -1",
            "actions/all.toml: action dry-filament: wait_minutes: -1 must be 0 or more",
        ),
        (
            "minutes = 60",
            "minutes = 0",
            "actions/all.toml: action replace-cable: minutes: 0 must be above 0",
        ),
        (
            "nozzle_c = [190, 220]",
            "nozzle_c = [220, 190]",
            "materials.toml: material PLA: nozzle_c: 220 to 190 must have the lower number first",
        ),
        (
            "nozzle_c = [190, 220]",
            "nozzle_c = [205]",
            "materials.toml: material PLA: nozzle_c: "
            "[205] must be two numbers in square brackets, the lower first",
        ),
        (
            "nozzle_c = [190, 220]",
            "nozle_c = [190, 220]",
            "materials.toml: material PLA: nozle_c: unknown key; "
            "the nearest valid name is 'nozzle_c'",
        ),
        (
            'needs = ["a quiet room"]',
            'needs = "a quiet room"',
            "findings/all.toml: finding popping-sounds: needs: "
            "'a quiet room' must be a list in square brackets",
        ),
        (
            "odds = { filament-wet = 3.0 }",
            "odds = 3.0",
            "risks/all.toml: risk open-spool: odds: 3.0 must be a table in curly brackets",
        ),
        (
            "danger = true",
            'danger = "yes"',
            "cautions.toml: caution unplug-first: danger: 'yes' must be true or false",
        ),
        (
            'sign = "Soft details."',
            'sign = " "',
            "faults/other.toml: fault resin-under-exposed: sign: the text must not be empty",
        ),
        (
            'sign = "Soft details."',
            "sign = 3",
            "faults/other.toml: fault resin-under-exposed: sign: "
            "3 must be a text in quotation marks",
        ),
        (
            "fine-strings = 0.7",
            "fine-strings = 0.0",
            "links/all.toml: filament-wet: fine-strings: "
            "0 must lie between 0 and 1, neither included",
        ),
        (
            "{ p = 0.6, source =",
            "{ p = 0.6, sauce =",
            "links/all.toml: filament-wet: popping-sounds: unknown key 'sauce'; "
            "the nearest valid name is 'source'",
        ),
        (
            "popping-sounds = { p = 0.6,",
            "popping-sounds = { ",
            "links/all.toml: filament-wet: popping-sounds: None must be a number",
        ),
        (
            'source = "memory"\nbrown-plug = 0.8',
            "brown-plug = 0.8",
            "links/all.toml: wiring-overheated: brown-plug: None must be a text in quotation marks",
        ),
        (
            "[finding.soft-details]",
            "[findings.soft-details]",
            "phrases/all.toml: findings: write [finding|risk|tried|guess|danger.id]; "
            "the nearest valid name is 'finding'",
        ),
        (
            '[finding.soft-details]\npresent = ["soft details"]',
            '[finding]\nsoft-details = ["soft details"]',
            "phrases/all.toml: finding.soft-details: "
            "write [finding.soft-details] and the patterns below it",
        ),
        (
            "[danger.scorched-plug]\npresent",
            "[danger.scorched-plug]\npresnt",
            "phrases/all.toml: danger.scorched-plug: presnt: unknown key; "
            "the nearest valid name is 'present'",
        ),
    ],
)
def test_mistake_in_an_entry_is_named(tmp_path: Path, old: str, new: str, problem: str) -> None:
    """File, entry, key, value and limit or nearest name are in the message."""
    assert problem in problems_of(write_folder(tmp_path, swaps={old: new}))


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        (
            "fine-strings = 0.7",
            "fine-string = 0.7",
            "links/all.toml: link filament-wet fine-string: unknown finding 'fine-string'; "
            "the nearest valid name is 'fine-strings'",
        ),
        (
            "[filament-wet]\nsource",
            "[filament-weet]\nsource",
            "links/all.toml: link filament-weet fine-strings: unknown fault 'filament-weet'; "
            "the nearest valid name is 'filament-wet'",
        ),
        (
            "soft-details = 0.8",
            "corners-lifted = 0.8",
            "links/all.toml: link resin-under-exposed corners-lifted: "
            "joins a fault of VPP and a finding of MEX",
        ),
        (
            "cures = { filament-wet = 0.85 }",
            "cures = { filament-wat = 0.85 }",
            "actions/all.toml: action dry-filament: cures: unknown fault 'filament-wat'; "
            "the nearest valid name is 'filament-wet'",
        ),
        (
            'danger = "scorched-plug"',
            'danger = "scorched-plugs"',
            "findings/all.toml: finding brown-plug: danger: unknown danger 'scorched-plugs'; "
            "the nearest valid name is 'scorched-plug'",
        ),
        (
            'caution = "unplug-first"',
            'caution = "zzz"',
            "dangers.toml: danger scorched-plug: caution: unknown caution 'zzz'",
        ),
        (
            "odds = { filament-wet = 3.0 }",
            'odds = { filament-wet = 3.0 }\nmaterials = ["PLAA"]',
            "risks/all.toml: risk open-spool: materials: unknown material 'PLAA'; "
            "the nearest valid name is 'PLA'",
        ),
        (
            "odds = { filament-wet = 3.0 }",
            'odds = { filament-wet = 3.0 }\nmachines = ["delta"]',
            "risks/all.toml: risk open-spool: machines: unknown machine or trait 'delta'",
        ),
        (
            "prior = 0.06\n",
            'prior = 0.06\nonly_machines = ["enclosed"]\n',
            "faults/thermal.toml: fault shrinkage-warp: only_machines: "
            "unknown machine or trait 'enclosed'",
        ),
        (
            "odds = { filament-wet = 3.0 }",
            "odds = { filament-dry = 3.0 }",
            "risks/all.toml: risk open-spool: odds: unknown fault 'filament-dry'; "
            "the nearest valid name is 'filament-wet'",
        ),
        (
            "[tried.dry-filament]",
            "[tried.dry-filaments]",
            "phrases/all.toml: phrases tried.dry-filaments: unknown action 'dry-filaments'; "
            "the nearest valid name is 'dry-filament'",
        ),
        (
            'prior = 0.15\nsource = "memory"',
            'prior = 0.15\nsource = "memries"',
            "faults/other.toml: fault resin-under-exposed: source: unknown source 'memries'; "
            "the nearest valid name is 'memory'",
        ),
        (
            "prior = 0.15",
            'prior = 0.15\nnever_materials = ["PLAA"]',
            "faults/other.toml: fault resin-under-exposed: never_materials: "
            "unknown material 'PLAA'; the nearest valid name is 'PLA'",
        ),
    ],
)
def test_name_that_refers_to_nothing_is_named(
    tmp_path: Path, old: str, new: str, problem: str
) -> None:
    """A typing mistake in a reference names file, key and the nearest valid name."""
    assert problem in problems_of(write_folder(tmp_path, swaps={old: new}))


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        (
            {"faults/bad.toml": "[[fault]\n"},
            "faults/bad.toml: the file cannot be read: ",
        ),
        (
            {"faults/bad.toml": '[[falt]]\nid = "x"\n'},
            "faults/bad.toml: falt: only [[fault]] entries belong here; "
            "the nearest valid name is 'fault'",
        ),
        (
            {"faults/bad.toml": '[fault]\nid = "x"\n'},
            "faults/bad.toml: fault: write [[fault]] with two brackets, once for each fault",
        ),
        (
            {"links/bad.toml": "filament-wet = 3\n"},
            "links/bad.toml: filament-wet: links are tables: write the fault in square brackets",
        ),
        (
            {"links/bad.toml": '[filament-wet]\nsource = "memory"\nfine-strings = 0.5\n'},
            "links/bad.toml: filament-wet: fine-strings: already linked in links/all.toml",
        ),
        (
            {"sources/bad.toml": "memory2 = 3\n"},
            "sources/bad.toml: memory2: a source is a table: write its key in square brackets",
        ),
        (
            {"sources/bad.toml": "[memory]\ntitle = 'Twice'\n"},
            "sources/bad.toml: source memory: this key is already taken in sources.toml",
        ),
        (
            {"faults/bad.toml": "fault = [3]\n"},
            "faults/bad.toml: fault: write [[fault]] with two brackets, once for each fault",
        ),
    ],
)
def test_mistake_in_a_file_is_named(tmp_path: Path, changes: dict[str, str], problem: str) -> None:
    """A file that is not what its place asks for is named."""
    found = problems_of(write_folder(tmp_path, changes))

    assert any(line.startswith(problem) for line in found), found


def test_file_that_is_not_utf8_is_named(tmp_path: Path) -> None:
    """A file in another encoding is reported, not crashed on."""
    (write_folder(tmp_path) / "faults" / "bad.toml").write_bytes(b'x = "\xff"')

    assert problems_of(tmp_path)[0].startswith("faults/bad.toml: the file cannot be read: ")


def test_all_problems_are_listed_at_once(tmp_path: Path) -> None:
    """One run names every mistake, and the message counts the rest."""
    folder = write_folder(
        tmp_path, swaps={"prior = 0.08": "prior = 2", "prior = 0.15": "prior = 3"}
    )

    with pytest.raises(KnowledgeError, match=r"resin-under-exposed: prior: .* \(and \d+ more\)"):
        load_knowledge(folder)
    assert sum("prior" in problem for problem in problems_of(folder)) == 2


def test_folder_without_knowledge_is_refused(tmp_path: Path) -> None:
    """An empty or missing folder is said to be empty."""
    assert problems_of(tmp_path / "none") == ["faults: there are none in the folder 'none'"]


def test_problem_without_a_file_reads_well() -> None:
    """Parts that are empty leave no stray colon."""
    assert str(Problem("", "", "all wrong")) == "all wrong"


def test_the_engine_comes_with_knowledge_that_loads() -> None:
    """The knowledge in this checkout is free of mistakes."""
    knowledge = load_knowledge()

    assert len(knowledge.faults) >= 72
    assert len(knowledge.version) == 12
