"""The full-text index beside SpokenPassage: FTS5 on SQLite, a generated tsvector on PostgreSQL."""

from collections.abc import Callable, Mapping, Sequence

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

SQLITE_FORWARD = [
    """CREATE VIRTUAL TABLE search_spoken USING fts5(
        text,
        content='search_spokenpassage', content_rowid='id',
        tokenize='porter unicode61 remove_diacritics 2')""",
    """CREATE TRIGGER search_spoken_insert AFTER INSERT ON search_spokenpassage BEGIN
        INSERT INTO search_spoken(rowid, text) VALUES (new.id, new.text);
    END""",
    """CREATE TRIGGER search_spoken_delete AFTER DELETE ON search_spokenpassage BEGIN
        INSERT INTO search_spoken(search_spoken, rowid, text)
        VALUES ('delete', old.id, old.text);
    END""",
    """CREATE TRIGGER search_spoken_update AFTER UPDATE OF text ON search_spokenpassage BEGIN
        INSERT INTO search_spoken(search_spoken, rowid, text)
        VALUES ('delete', old.id, old.text);
        INSERT INTO search_spoken(rowid, text) VALUES (new.id, new.text);
    END""",
    "INSERT INTO search_spoken(search_spoken) VALUES ('rebuild')",
]
SQLITE_BACKWARD = [
    "DROP TRIGGER search_spoken_insert",
    "DROP TRIGGER search_spoken_delete",
    "DROP TRIGGER search_spoken_update",
    "DROP TABLE search_spoken",
]
POSTGRES_FORWARD = [
    """ALTER TABLE search_spokenpassage ADD COLUMN words tsvector
        GENERATED ALWAYS AS (to_tsvector('english', text)) STORED""",
    "CREATE INDEX search_spoken ON search_spokenpassage USING gin(words)",
]
POSTGRES_BACKWARD = ["ALTER TABLE search_spokenpassage DROP COLUMN words"]


def _run(
    statements_by_vendor: Mapping[str, Sequence[str]],
) -> Callable[[StateApps, BaseDatabaseSchemaEditor], None]:
    def run(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
        for statement in statements_by_vendor[schema_editor.connection.vendor]:
            schema_editor.execute(statement)

    return run


class Migration(migrations.Migration):
    dependencies = [("search", "0003_make_spoken")]

    operations = [
        migrations.RunPython(
            _run({"sqlite": SQLITE_FORWARD, "postgresql": POSTGRES_FORWARD}),
            _run({"sqlite": SQLITE_BACKWARD, "postgresql": POSTGRES_BACKWARD}),
        )
    ]
