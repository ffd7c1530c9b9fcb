"""Posts as ActivityStreams 2.0.

Examples 1, 2 and 4 are those of "Activity Streams 2.0" (W3C Recommendation of 23 May 2017, "core"),
read in the W3C's own test documents; those of "Activity Vocabulary" are from memory. The malformed
documents are of the kinds in those tests' folder of failures. What social servers add to a post is
common practice, no source.
"""

import datetime
import json
import time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.core.errors import RefusedInputError
from helpdesk.incoming.notes import (
    Actor,
    RemotePicture,
    UnreadableNoteError,
    note_key,
    read_note,
    read_note_text,
)

CONTEXT = "https://www.w3.org/ns/activitystreams"
ID = "https://workshop.example/notes/7"
TEODORA = "https://workshop.example/users/teodora"


def a_note(**fields: Any) -> dict[str, Any]:
    return {"@context": CONTEXT, "type": "Note", "id": ID, "content": "It warps."} | fields


def test_example_1_of_core_names_its_object_by_address_only() -> None:
    """Core, example 1: well-formed, but the post itself is not in it and nothing is fetched."""
    document = {
        "@context": CONTEXT,
        "summary": "Martin created an image",
        "type": "Create",
        "actor": "http://www.test.example/martin",
        "object": "http://example.org/foo.jpg",
    }

    with pytest.raises(UnreadableNoteError, match="only names the post"):
        read_note(document)


def test_example_2_of_core_holds_actor_and_article() -> None:
    """Core, example 2: a Create whose actor and object stand in it, here an Add of an Article."""
    document = {
        "@context": CONTEXT,
        "summary": "Martin added an article to his blog",
        "type": "Add",
        "published": "2015-02-10T15:04:55Z",
        "actor": {
            "type": "Person",
            "id": "http://www.test.example/martin",
            "name": "Martin Smith",
            "url": "http://example.org/martin",
            "image": {
                "type": "Link",
                "href": "http://example.org/martin/image.jpg",
                "mediaType": "image/jpeg",
            },
        },
        "object": {
            "id": "http://www.test.example/blog/abc123/xyz",
            "type": "Article",
            "url": "http://example.org/blog/2011/02/entry",
            "name": "Why I love Activity Streams",
        },
        "target": {
            "id": "http://example.org/blog/",
            "type": "OrderedCollection",
            "name": "Martin's Blog",
        },
    }

    note = read_note(document)

    assert note.id == "http://www.test.example/blog/abc123/xyz"
    assert note.words == note.title == "Why I love Activity Streams"
    assert note.link == "http://example.org/blog/2011/02/entry"
    assert note.author is None
    assert note.passed_on_by == Actor(
        id="http://www.test.example/martin",
        name="Martin Smith",
        handle="@martin@www.test.example",
        link="http://example.org/martin",
    )


def test_example_4_of_core_names_its_author_in_full() -> None:
    """Core, example 4: a Note attributed to a Person."""
    note = read_note(
        {
            "@context": "http://www.w3.org/ns/activitystreams",
            "id": "http://example.org/foo",
            "type": "Note",
            "name": "This is a note",
            "attributedTo": {
                "id": "http://joe.website.example/",
                "type": "Person",
                "name": "Joe Smith",
            },
            "published": "2014-08-21T12:34:56Z",
        }
    )

    assert note.key == note_key("http://example.org/foo")
    assert (note.id, note.link, note.words) == (*["http://example.org/foo"] * 2, "This is a note")
    assert note.author
    assert (note.author.id, note.author.name) == ("http://joe.website.example/", "Joe Smith")
    assert note.published == datetime.datetime(2014, 8, 21, 12, 34, 56, tzinfo=datetime.UTC)


def test_vocabulary_example_of_attachment() -> None:
    """Vocabulary, `attachment`: a Note with an Image."""
    note = read_note(
        {
            "@context": CONTEXT,
            "type": "Note",
            "name": "Have you seen my cat?",
            "attachment": [
                {"type": "Image", "content": "This is what he looks like.",
                 "url": "http://example.org/cat.jpeg"}
            ],
        }
    )  # fmt: skip

    assert note.words == "Have you seen my cat?"
    assert note.pictures == (RemotePicture(address="http://example.org/cat.jpeg"),)


def test_vocabulary_example_of_an_image_with_two_links() -> None:
    """Vocabulary, `Image`: by itself, with its url as several Links."""
    note = read_note(
        {
            "@context": CONTEXT,
            "type": "Image",
            "name": "Cat Jumping on Wagon",
            "url": [
                {
                    "type": "Link",
                    "href": "http://example.org/image.jpeg",
                    "mediaType": "image/jpeg",
                },
                {"type": "Link", "href": "http://example.org/image.png", "mediaType": "image/png"},
            ],
        }
    )

    assert note.words == "Cat Jumping on Wagon"
    assert note.pictures == (
        RemotePicture("http://example.org/image.jpeg", "image/jpeg", "Cat Jumping on Wagon"),
    )


def test_vocabulary_example_of_natural_languages() -> None:
    """Core section 4.7: nameMap and contentMap; English is taken where there is any."""
    languages = {"en": "A <em>simple</em> note", "es": "Una nota <em>sencilla</em>"}

    english = read_note(a_note(content=None, contentMap=languages))
    other = read_note(a_note(content=None, contentMap={"es": languages["es"]}))

    assert (english.words, other.words) == ("A simple note", "Una nota sencilla")


def test_content_is_html_unless_another_type_is_said() -> None:
    """Core section 4.3, `mediaType`: without it the content is text/html."""
    words = "<p>1 &lt; 2 &amp; <b>so</b><br>on</p><script>alert(1)</script>"

    assert read_note(a_note(content=words)).words == "1 < 2 & so\non"
    assert read_note(a_note(content=words, mediaType="text/plain")).words == words


@pytest.mark.parametrize(
    "context",
    [
        CONTEXT,
        "http://www.w3.org/ns/activitystreams#",
        [CONTEXT, "https://workshop.example/ns"],
        [CONTEXT, {"@language": "en"}],
        {"@vocab": CONTEXT, "ext": "https://workshop.example/ns#"},
        {"as": f"{CONTEXT}#"},
    ],
    ids=str,
)
def test_context_may_be_an_address_a_list_or_an_object(context: Any) -> None:
    assert read_note(a_note(**{"@context": context})).words == "It warps."


def test_missing_context_is_taken_to_be_there() -> None:
    """Core section 2.1: the normative context applies all the same."""
    document = a_note()
    del document["@context"]

    assert read_note(document).words == "It warps."


@pytest.mark.parametrize("kind", [["Note", "https://workshop.example/ns#Post"], f"{CONTEXT}#Note"])
def test_type_may_be_a_list_or_in_full(kind: Any) -> None:
    assert read_note(a_note(type=kind)).words == "It warps."


def test_post_of_a_social_server_is_read_whole() -> None:
    """A mention of the desk in a Create, with pictures, alternative texts, tags and audience."""
    note = read_note(
        {
            "@context": [CONTEXT, {"toot": "https://workshop.example/ns#"}],
            "id": f"{ID}/activity",
            "type": "Create",
            "actor": TEODORA,
            "published": "2026-11-24T19:30:00Z",
            "to": [f"{CONTEXT}#Public"],
            "object": {
                "id": ID,
                "type": "Note",
                "summary": "A failed print",
                "inReplyTo": "https://other.example/notes/1",
                "published": "2026-11-24T20:30:00+01:00",
                "url": "https://workshop.example/@teodora/7",
                "attributedTo": TEODORA,
                "to": ["as:Public"],
                "cc": [f"{TEODORA}/followers", "https://clinic.example/desk"],
                "content": '<p><span class="h-card"><a href="https://clinic.example/@desk">@'
                "<span>desk</span></a></span> The corners lift.</p><p>Any idea?</p>",
                "attachment": [
                    {
                        "type": "Document",
                        "mediaType": "image/webp",
                        "url": "https://files.workshop.example/1.webp",
                        "name": "A white box with lifted corners",
                        "blurhash": "x",
                    },
                    {"type": "Page", "href": "https://workshop.example/read-me"},
                ],
                "tag": [
                    {
                        "type": "Mention",
                        "href": "https://clinic.example/desk",
                        "name": "@desk@clinic.example",
                    },
                    {"type": "Hashtag", "href": "https://workshop.example/t/x", "name": "#x"},
                ],
            },
        }
    )

    assert note.words == "A failed print\n\n@desk The corners lift.\n\nAny idea?"
    assert (note.id, note.link) == (ID, "https://workshop.example/@teodora/7")
    assert note.author == Actor(id=TEODORA, handle="@teodora@workshop.example", link=TEODORA)
    assert note.passed_on_by is None
    assert note.published == datetime.datetime(2026, 11, 24, 19, 30, tzinfo=datetime.UTC)
    assert note.reply_to == ("https://other.example/notes/1",)
    assert note.mentions == ("@desk@clinic.example",)
    assert note.is_public
    assert note.pictures == (
        RemotePicture(
            "https://files.workshop.example/1.webp", "image/webp", "A white box with lifted corners"
        ),
    )


def test_mention_at_the_beginning_is_no_part_of_the_title() -> None:
    mention = {"type": "Mention", "href": "https://clinic.example/desk", "name": "@desk@c.example"}

    note = read_note(a_note(content="<p>@desk @DESK@c.example The corners lift.</p>", tag=mention))

    assert note.bare_words == "The corners lift."


@pytest.mark.parametrize("kind", ["Announce", "Create"])
def test_post_passed_on_by_somebody_else_keeps_both(kind: str) -> None:
    passing = {
        "@context": CONTEXT,
        "type": kind,
        "actor": {"id": "https://other.example/u/ilse", "type": "Person", "name": "Ilse"},
        "object": {"type": "Note", "id": ID, "content": "It warps.", "attributedTo": TEODORA},
    }

    note = read_note(passing)

    assert note.author
    assert note.passed_on_by
    assert (note.author.id, note.passed_on_by.name) == (TEODORA, "Ilse")
    assert note.key == note_key(ID)


def test_post_in_a_create_without_author_is_its_actors() -> None:
    note = read_note({"type": "Create", "actor": TEODORA, "object": a_note()})

    assert note.author
    assert (note.author.id, note.passed_on_by) == (TEODORA, None)


def test_picture_alone_is_a_post() -> None:
    note = read_note({"type": "Image", "url": "https://workshop.example/1.jpg"})

    assert note.pictures[0].address == "https://workshop.example/1.jpg"
    assert note.words == "A picture without words."


MALFORMED: dict[str, tuple[Any, str]] = {
    "text at the top": ("Note", "not a JSON object"),
    "list at the top": ([a_note()], "not a JSON object"),
    "number at the top": (7, "not a JSON object"),
    "nothing": (None, "not a JSON object"),
    "number as id": (a_note(id=7), "id of the post is not a text"),
    "object as id": (a_note(id={"id": ID}), "id of the post is not a text"),
    "id without a scheme": (a_note(id="notes/7"), "not an address"),
    "number as context": (a_note(**{"@context": 7}), "@context is neither"),
    "another context": (a_note(**{"@context": "https://schema.example"}), "does not name"),
    "no type": ({"id": ID, "content": "x"}, "things without a type"),
    "number as type": (a_note(type=7), "type of the document is not a text"),
    "list of numbers as type": (a_note(type=["Note", 7]), "is not a text"),
    "person": (a_note(type="Person"), "not Person"),
    "collection": (a_note(type="OrderedCollection", items=[]), "not OrderedCollection"),
    "like": (a_note(type="Like", actor=TEODORA, object=ID), "not Like"),
    "number as content": (a_note(content=7), "content is not a text"),
    "list as content": (a_note(content=["a"]), "content is not a text"),
    "list as contentMap": (a_note(contentMap=["a"]), "contentMap is not an object"),
    "number in contentMap": (a_note(content=None, contentMap={"en": 7}), "not a text"),
    "number as name": (a_note(name=7), "name is not a text"),
    "no words": (a_note(content="<p> </p>"), "no words and no picture"),
    "words as date": (a_note(published="yesterday"), "published is not a moment"),
    "date without offset": (a_note(published="2026-11-24T19:30:00"), "is not a moment"),
    "day 32": (a_note(published="2026-11-32T19:30:00Z"), "is not a moment"),
    "number as author": (a_note(attributedTo=7), "attributedTo is neither"),
    "text as author": (a_note(attributedTo="Teodora"), "attributedTo is not an address"),
    "author with number as id": (a_note(attributedTo={"id": 7}), "is not a text"),
    "number as attachment": (a_note(attachment=7), "attachment is neither"),
    "list in list": (a_note(attachment=[[{"type": "Image"}]]), "attachment is neither"),
    "number as url": (a_note(url=7), "url is neither"),
    "number as href": (a_note(url={"type": "Link", "href": 7}), "href is not a text"),
    "number as tag": (a_note(tag=[7]), "tag is neither"),
    "too many tags": (a_note(tag=["x"] * 201), "more than 200"),
    "activity without object": ({"type": "Create", "actor": TEODORA}, "exactly one object"),
    "two objects": ({"type": "Create", "object": [a_note(), a_note()]}, "exactly one object"),
    "object of another kind": ({"type": "Create", "object": {"type": "Event"}}, "not a post"),
    "number as actor": ({"type": "Create", "actor": 7, "object": a_note()}, "actor is neither"),
    "relative address": (a_note(type="Image", url="images/sally.jpg"), "not a full one"),
    "languages as name": (a_note(name={"en": "A note"}), "name is not a text"),
    "text as nameMap": (a_note(nameMap="A note"), "nameMap is not an object"),
    "no language": (a_note(contentMap={"de-419-DE": "Nein"}), "a language that is none"),
    "number as object": ({"type": "Offer", "actor": TEODORA, "object": 23}, "object is neither"),
    "number as reply": (a_note(inReplyTo=7), "inReplyTo is neither"),
}


@pytest.mark.parametrize("what", MALFORMED)
def test_malformed_document_is_refused_with_a_reason(what: str) -> None:
    document, words = MALFORMED[what]

    with pytest.raises(UnreadableNoteError, match=words):
        read_note(document)


def test_text_that_is_no_json_is_refused() -> None:
    with pytest.raises(RefusedInputError, match="not JSON"):
        read_note_text("The corners lift.")
    with pytest.raises(RefusedInputError, match="not UTF-8"):
        read_note_text('{"type": "Note", "content": "Ĉiuj homoj"}'.encode("iso-8859-3"))
    assert read_note_text(json.dumps(a_note())).words == "It warps."


JSON: Any = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=6,
)
FIELDS = (
    "@context", "id", "type", "content", "contentMap", "name", "summary", "mediaType", "url",
    "attributedTo", "actor", "object", "attachment", "image", "tag", "inReplyTo", "published", "to",
)  # fmt: skip


@given(st.dictionaries(st.sampled_from(FIELDS), JSON), st.sampled_from(["Note", "Create"]))
def test_any_document_is_read_or_refused(fields: dict[str, Any], kind: str) -> None:
    document = {"type": kind, "object": a_note()} | a_note() | fields

    try:
        words = read_note(document).words
    except UnreadableNoteError as error:
        words = str(error)

    assert words


@pytest.mark.parametrize("piece", ["<a ", '<a b="', "<!--", "<a/", "</", "&", "<div>", "@desk "])
def test_hostile_content_is_read_in_time(piece: str) -> None:
    begun = time.perf_counter()
    try:
        note = read_note(a_note(content=piece * (200_000 // len(piece)), name="x"))
        assert len(note.words) <= 20_000
    except UnreadableNoteError:
        pass

    assert time.perf_counter() - begun < 5
