"""Reads the knowledge folder: every TOML file, checked against the schema."""

import tomllib
from collections.abc import Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from triage.errors import KnowledgeError, Problem, suggest
from triage.knowledge._build import finish_knowledge
from triage.knowledge._checks import check_references
from triage.knowledge._model import PHRASE_KINDS, Entries, Knowledge, Link, Phrases
from triage.knowledge._schema import SCHEMAS, Schema, ValueRefusedError, filled_text, probability

KNOWLEDGE_FOLDER = Path(__file__).parent

# Where each kind stands: a file of that name at the top, or a folder of files, or both.
_LISTED = {
    "faults": "fault",
    "findings": "finding",
    "risks": "risk",
    "actions": "action",
    "cautions": "caution",
    "dangers": "danger",
    "materials": "material",
    "machines": "machine",
}
_NAME_KEY = {"material": "code", "source": "key"}

Table = dict[str, Any]


def load_knowledge(folder: Path | None = None) -> Knowledge:
    """Return the knowledge of a folder, checked.

    Parameters
    ----------
    folder : Path, optional
        Knowledge folder; by default the one that comes with the engine.

    Returns
    -------
    Knowledge

    Raises
    ------
    KnowledgeError
        If a file cannot be read, an entry does not fit its schema, an id is given twice or a
        name refers to nothing. `problems` lists all of them with file, key and nearest name.
    """
    reader = _FolderReader(folder or KNOWLEDGE_FOLDER)
    entries = reader.read()
    problems = (*reader.problems, *check_references(entries))
    if not entries.faults and not problems:
        problems = (Problem("", "faults", f"there are none in the folder '{reader.folder}'"),)
    if problems:
        raise KnowledgeError(*problems)
    return finish_knowledge(entries, version=reader.version)


class _FolderReader:
    """Collects entries and problems while it walks one folder."""

    def __init__(self, folder: Path) -> None:
        self.problems: list[Problem] = []
        self.folder = folder.name
        self._folder = folder
        self._files: dict[str, str] = {}
        self._hash = sha256()

    @property
    def version(self) -> str:
        """Short hash of the files read so far."""
        return self._hash.hexdigest()[:12]

    def read(self) -> Entries:
        """Return the entries of the folder; what is wrong goes to `problems`."""
        found: dict[str, dict[str, Any]] = {kind: {} for kind in (*_LISTED.values(), "source")}
        for place, kind in _LISTED.items():
            for file, tables in self._tables(place):
                self._read_listed(file, tables, kind, found[kind])
        for file, tables in self._tables("sources"):
            for key, table in tables.items():
                self._read_source(file, key, table, found["source"])
        links = tuple(self._read_links())
        return Entries(
            faults=found["fault"],
            findings=found["finding"],
            risks=found["risk"],
            links=links,
            actions=found["action"],
            cautions=found["caution"],
            dangers=found["danger"],
            materials=found["material"],
            machines=found["machine"],
            sources=found["source"],
            phrases=self._read_phrases(),
            files=self._files,
        )

    def _note(self, file: str, key: str, message: str) -> None:
        self.problems.append(Problem(file, key, message))

    def _tables(self, place: str) -> Iterator[tuple[str, Table]]:
        """Yield name and content of each file of a place, in the order of their names."""
        at_top = self._folder / f"{place}.toml"
        in_folder = sorted((self._folder / place).glob("*.toml"))
        for file in [at_top, *in_folder] if at_top.exists() else in_folder:
            name = file.relative_to(self._folder).as_posix()
            content = file.read_bytes()
            self._hash.update(name.encode() + b"\0" + content)
            try:
                yield name, tomllib.loads(content.decode())
            except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
                self._note(name, "", f"the file cannot be read: {error}")

    def _read_listed(self, file: str, tables: Table, kind: str, into: Table) -> None:
        """Read the `[[kind]]` entries of a file."""
        for key in tables:
            if key != kind:
                self._note(file, key, f"only [[{kind}]] entries belong here{suggest(key, [kind])}")
        listed = tables.get(kind, [])
        if not isinstance(listed, list) or not all(isinstance(table, dict) for table in listed):
            self._note(file, kind, f"write [[{kind}]] with two brackets, once for each {kind}")
            return
        for place, table in enumerate(listed, start=1):
            self._read_entry(file, kind, f"number {place}", table, into)

    def _read_source(self, file: str, key: str, table: object, into: Table) -> None:
        if not isinstance(table, dict):
            self._note(file, key, "a source is a table: write its key in square brackets")
            return
        self._read_entry(file, "source", key, {"key": key, **table}, into)

    def _read_entry(self, file: str, kind: str, place: str, table: Table, into: Table) -> None:
        """Read one entry into `into` unless something is wrong with it."""
        name_key = _NAME_KEY.get(kind, "id")
        name = table.get(name_key)
        label = f"{kind} {name if isinstance(name, str) else place}"
        values = self._convert(file, label, SCHEMAS[kind], table)
        if values is None:
            return
        name = values[name_key]
        if name in into:
            first = self._files[f"{kind} {name}"]
            self._note(file, label, f"this {name_key} is already taken in {first}")
            return
        into[name] = SCHEMAS[kind].make(**values)
        self._files[f"{kind} {name}"] = file

    def _convert(self, file: str, label: str, schema: Schema, table: Table) -> Table | None:
        """Return the checked values of a table, or None when one is wrong."""
        before = len(self.problems)
        values: Table = {}
        for key, value in table.items():
            if key not in schema.keys:
                self._note(file, f"{label}: {key}", f"unknown key{suggest(key, schema.keys)}")
                continue
            try:
                values[key] = schema.keys[key](value)
            except ValueRefusedError as error:
                self._note(file, f"{label}: {key}", str(error))
        for key in schema.required:
            if key not in table:
                self._note(file, f"{label}: {key}", "this key is missing")
        return values if len(self.problems) == before else None

    def _read_links(self) -> Iterator[Link]:
        """Yield the links of all files under links/."""
        seen: dict[tuple[str, str], str] = {}
        for file, tables in self._tables("links"):
            for fault, table in tables.items():
                if not isinstance(table, dict):
                    self._note(file, fault, "links are tables: write the fault in square brackets")
                    continue
                usual = table.get("source")
                for finding, value in table.items():
                    if finding == "source":
                        continue
                    link = self._read_link(file, fault, finding, value, usual)
                    if link is None:
                        continue
                    if (fault, finding) in seen:
                        first = seen[fault, finding]
                        self._note(file, f"{fault}: {finding}", f"already linked in {first}")
                        continue
                    seen[fault, finding] = file
                    self._files[f"link {fault} {finding}"] = file
                    yield link

    def _read_link(
        self, file: str, fault: str, finding: str, value: object, usual: object
    ) -> Link | None:
        """Return one link, or None when it is wrong."""
        given = value if isinstance(value, dict) else {"p": value}
        key = f"{fault}: {finding}"
        for name in given:
            if name not in ("p", "source"):
                self._note(file, key, f"unknown key '{name}'{suggest(name, ['p', 'source'])}")
                return None
        try:
            chance = probability(given.get("p"))
            source = filled_text(given.get("source", usual))
        except ValueRefusedError as error:
            self._note(file, key, str(error))
            return None
        return Link(fault=fault, finding=finding, p=chance, source=source)

    def _read_phrases(self) -> Mapping[str, Mapping[str, Phrases]]:
        """Return the phrases by kind and id; the same subject in two files is joined."""
        book: dict[str, dict[str, Phrases]] = {kind: {} for kind in PHRASE_KINDS}
        for file, tables in self._tables("phrases"):
            for kind, subjects in tables.items():
                if kind not in book or not isinstance(subjects, dict):
                    hint = suggest(kind, PHRASE_KINDS)
                    self._note(file, kind, f"write [{'|'.join(PHRASE_KINDS)}.id]{hint}")
                    continue
                for name, table in subjects.items():
                    self._read_phrase(file, kind, name, table, book[kind])
        return book

    def _read_phrase(
        self, file: str, kind: str, name: str, table: object, into: dict[str, Phrases]
    ) -> None:
        label = f"{kind}.{name}"
        if not isinstance(table, dict):
            self._note(file, label, f"write [{label}] and the patterns below it")
            return
        values = self._convert(file, label, SCHEMAS["phrases"], table)
        if values is None:
            return
        if values.get("named") and kind != "tried":
            self._note(file, label, "named: only remedies tried are told by a bare name")
            return
        old = into.get(name, Phrases())
        into[name] = Phrases(
            present=old.present + values.get("present", ()),
            absent=old.absent + values.get("absent", ()),
            named=old.named + values.get("named", ()),
        )
        self._files.setdefault(f"phrases {label}", file)
