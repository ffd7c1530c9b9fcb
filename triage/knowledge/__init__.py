"""What is known about failed prints: TOML tables, their loader and their checks."""

from triage.knowledge._build import build_knowledge
from triage.knowledge._checks import check_knowledge
from triage.knowledge._counts import count_kinds, count_sources
from triage.knowledge._depth import check_depth, nearest_faults, telling_checks
from triage.knowledge._loader import KNOWLEDGE_FOLDER, load_knowledge
from triage.knowledge._model import (
    ANY_PROCESS,
    PHRASE_KINDS,
    PROCESSES,
    Action,
    Caution,
    Danger,
    Fault,
    Finding,
    Knowledge,
    Link,
    Machine,
    Material,
    Network,
    Phrases,
    Risk,
    Source,
    applies_to,
    implied_risks,
    suits_machine,
    suits_material,
)
from triage.knowledge._stories import LEAST_STORIES, Story, check_stories, load_stories
from triage.knowledge._ways import LEAST_WAYS, check_ways, common_entries, count_thin, count_ways

__all__ = [
    "ANY_PROCESS",
    "KNOWLEDGE_FOLDER",
    "LEAST_STORIES",
    "LEAST_WAYS",
    "PHRASE_KINDS",
    "PROCESSES",
    "Action",
    "Caution",
    "Danger",
    "Fault",
    "Finding",
    "Knowledge",
    "Link",
    "Machine",
    "Material",
    "Network",
    "Phrases",
    "Risk",
    "Source",
    "Story",
    "applies_to",
    "build_knowledge",
    "check_depth",
    "check_knowledge",
    "check_stories",
    "check_ways",
    "common_entries",
    "count_kinds",
    "count_sources",
    "count_thin",
    "count_ways",
    "implied_risks",
    "load_knowledge",
    "load_stories",
    "nearest_faults",
    "suits_machine",
    "suits_material",
    "telling_checks",
]
