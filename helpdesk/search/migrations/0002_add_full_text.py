"""The full-text index beside SearchEntry: FTS5 on SQLite, a generated tsvector on PostgreSQL."""

from collections.abc import Callable, Mapping, Sequence

from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

SQLITE_FORWARD = [
    """CREATE VIRTUAL TABLE search_words USING fts5(
        title, story, answer,
        content='search_searchentry', content_rowid='id',
        tokenize='porter unicode61 remove_diacritics 2')""",
    """CREATE TRIGGER search_words_insert AFTER INSERT ON search_searchentry BEGIN
        INSERT INTO search_words(rowid, title, story, answer)
        VALUES (new.id, new.title, new.story, new.answer);
    END""",
    """CREATE TRIGGER search_words_delete AFTER DELETE ON search_searchentry BEGIN
        INSERT INTO search_words(search_words, rowid, title, story, answer)
        VALUES ('delete', old.id, old.title, old.story, old.answer);
    END""",
    """CREATE TRIGGER search_words_update AFTER UPDATE OF title, story, answer
        ON search_searchentry BEGIN
        INSERT INTO search_words(search_words, rowid, title, story, answer)
        VALUES ('delete', old.id, old.title, old.story, old.answer);
        INSERT INTO search_words(rowid, title, story, answer)
        VALUES (new.id, new.title, new.story, new.answer);
    END""",
    "INSERT INTO search_words(search_words) VALUES ('rebuild')",
]
SQLITE_BACKWARD = [
    "DROP TRIGGER search_words_insert",
    "DROP TRIGGER search_words_delete",
    "DROP TRIGGER search_words_update",
    "DROP TABLE search_words",
]
POSTGRES_FORWARD = [
    """ALTER TABLE search_searchentry ADD COLUMN words tsvector GENERATED ALWAYS AS (
        setweight(to_tsvector('english', title), 'A')
        || setweight(to_tsvector('english', story), 'B')
        || setweight(to_tsvector('english', answer), 'B')) STORED""",
    "CREATE INDEX search_words ON search_searchentry USING gin(words)",
]
POSTGRES_BACKWARD = ["ALTER TABLE search_searchentry DROP COLUMN words"]


def _run(
    statements_by_vendor: Mapping[str, Sequence[str]],
) -> Callable[[StateApps, BaseDatabaseSchemaEditor], None]:
    def run(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
        for statement in statements_by_vendor[schema_editor.connection.vendor]:
            schema_editor.execute(statement)

    return run


class Migration(migrations.Migration):
    dependencies = [("search", "0001_make_search")]

    operations = [
        migrations.RunPython(
            _run({"sqlite": SQLITE_FORWARD, "postgresql": POSTGRES_FORWARD}),
            _run({"sqlite": SQLITE_BACKWARD, "postgresql": POSTGRES_BACKWARD}),
        )
    ]
