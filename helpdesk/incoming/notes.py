"""Read posts written as ActivityStreams 2.0 (W3C Recommendation of 23 May 2017).

A post is a Note, Article, Page or Image, alone or as the object of a Create or Announce. The format
leaves much open: a value may be one thing or a list, a thing may be its address or an object. All
of that is read. What breaks the format is refused with a sentence that says where. Nothing is
fetched, and an address is only ever a text here.

Section numbers are those of "Activity Streams 2.0" (core) and "Activity Vocabulary".
"""

import datetime
import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote, urlsplit

from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import storable
from helpdesk.incoming.markup import text_of_markup
from helpdesk.incoming.strict_json import read_json

CONTEXT = "https://www.w3.org/ns/activitystreams"
POSTS = frozenset({"Note", "Article", "Page", "Image"})
MAKING = frozenset({"Create", "Update"})
PASSING_ON = frozenset({"Announce", "Add", "Offer"})
PICTURES = frozenset({"Image", "Document"})
EVERYBODY = frozenset({f"{CONTEXT}#Public", "as:Public", "Public"})
LANGUAGES = ("en", "en-gb", "en-us")
MOST_WORDS = 20_000  # characters
MOST_PICTURES = 12
MOST_ITEMS = 200  # of one list
ADDRESS_CHARS = 500
NAME_CHARS = 80
ALT_CHARS = 300
# RFC 3339 with its seconds optional, as core section 2.3 has it.
_MOMENT = re.compile(
    r"(\d{4}-\d\d-\d\d)[Tt](\d\d:\d\d)(:\d\d(?:\.\d+)?)?([Zz]|[+-]\d\d:\d\d)", re.ASCII
)
# A well-formed language tag (RFC 5646 section 2.1).
_LANGUAGE = re.compile(
    r"(?:[a-z]{2,3}(?:-[a-z]{3}){0,3}|[a-z]{4,8})(?:-[a-z]{4})?(?:-(?:[a-z]{2}|\d{3}))?"
    r"(?:-(?:[a-z0-9]{5,8}|\d[a-z0-9]{3}))*(?:-[a-wyz0-9](?:-[a-z0-9]{2,8})+)*"
    r"(?:-x(?:-[a-z0-9]{1,8})+)?|x(?:-[a-z0-9]{1,8})+",
    re.ASCII | re.IGNORECASE,
)
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:[^\s<>\"{}|\\^`]+")


class UnreadableNoteError(RefusedInputError):
    """A document is no post the desk can read; the message says what is wrong with it."""


@dataclass(frozen=True)
class Actor:
    """Somebody a post names; `handle` is as people write it, such as @teo@workshop.example."""

    id: str
    name: str = ""
    handle: str = ""
    link: str = ""


@dataclass(frozen=True)
class RemotePicture:
    """A picture or file that stands elsewhere; nothing of it was fetched."""

    address: str
    media_type: str = ""
    alt_text: str = ""


@dataclass(frozen=True, kw_only=True)
class Note:
    """A post as plain values; `passed_on_by` is set when somebody else than its author sent it."""

    id: str
    words: str
    title: str = ""
    author: Actor | None = None
    passed_on_by: Actor | None = None
    link: str = ""
    published: datetime.datetime | None = None
    reply_to: Sequence[str] = ()
    mentions: Sequence[str] = ()
    pictures: Sequence[RemotePicture] = ()
    is_public: bool = False

    @property
    def key(self) -> str:
        """Return what names this post for good, whichever way it comes.

        One without an id is named by its author, moment and words.
        """
        author = self.author.id or self.author.name if self.author else ""
        return note_key(self.id or f"{author}\n{self.published}\n{self.words}")

    @property
    def bare_words(self) -> str:
        """Return the words without the names of those they are addressed to at their beginning."""
        words = self.words
        for mention in sorted(self.mentions, key=len, reverse=True) * 2:
            short = "@" + mention.lstrip("@").partition("@")[0]
            for name in (mention, short):
                if words.lower().startswith(name.lower() + " "):
                    words = words[len(name) :].lstrip()
        return words


def note_key(note_id: str) -> str:
    """Return the submission key of a post by its id."""
    return f"note:{hashlib.sha256(note_id.encode()).hexdigest()}"


def read_note_text(text: str | bytes) -> Note:
    """Return the post a JSON text holds; raises UnreadableNoteError or UnreadableJsonError."""
    return read_note(read_json(text))


def read_note(data: Any) -> Note:
    """Return the post an ActivityStreams document holds.

    Raises UnreadableNoteError when the document is malformed or holds no post.
    """
    top = _object(data, "The document")
    _check_context(top)
    kinds = _types(top, "The document")
    if kinds & POSTS:
        return _read_post(top)
    if not kinds & (MAKING | PASSING_ON):
        named = ", ".join(sorted(kinds)) or "things without a type"
        raise UnreadableNoteError(f"The desk reads posts (Note, Article, Image), not {named}.")
    sender = _actor(top, "actor")
    _check_id(top, "The activity")
    post = _only(top, "object")
    if isinstance(post, str):
        raise UnreadableNoteError(
            "The activity only names the post by its address. Please send the post itself."
        )
    post = _object(post, "The object")
    if not _types(post, "The object") & POSTS:
        raise UnreadableNoteError("The object of the activity is not a post.")
    return _read_post(post, sender=sender, is_own=kinds & MAKING != set())


def _read_post(
    post: Mapping[str, Any], *, sender: Actor | None = None, is_own: bool = False
) -> Note:
    """Return a post that came by itself or in an activity of `sender`.

    `is_own` says that the activity makes a post, so that one without an author is the sender's.
    """
    author = _actor(post, "attributedTo") or (sender if is_own else None)
    is_passed_on = sender is not None and not _is_same(author, sender)
    pictures = _pictures(post)
    words = _words(post)
    if not words and not pictures:
        raise UnreadableNoteError("There are no words and no picture in the post.")
    note_id = _check_id(post, "The post")
    return Note(
        id=note_id,
        words=words or "A picture without words.",
        title=_plain(post, "name")[:120],
        author=author,
        passed_on_by=sender if is_passed_on else None,
        link=_page(post) or (note_id if _is_web(note_id) else ""),
        published=_moment(post, "published"),
        reply_to=tuple(filter(None, (_name_of(one) for one in _each(post, "inReplyTo")))),
        mentions=_mentions(post),
        pictures=pictures,
        is_public=any(
            _name_of(one) in EVERYBODY for field in ("to", "cc") for one in _each(post, field)
        ),
    )


def _is_same(author: Actor | None, sender: Actor) -> bool:
    """Return whether two actors are one; an author without an id is told by name."""
    if author is None:
        return False
    return author.id == sender.id if author.id and sender.id else author.name == sender.name


def _object(value: Any, what: str) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise UnreadableNoteError(f"{what} is not a JSON object.")
    return value


def _check_context(top: Mapping[str, Any]) -> None:
    """Refuse a context that is none, or that never names ActivityStreams.

    One that is missing is taken to be there (core section 2.1).
    """
    context = top.get("@context")
    if context is None:
        return
    given = context if isinstance(context, list) else [context]
    if not all(one is None or isinstance(one, str | dict) for one in given):
        raise UnreadableNoteError("The @context is neither an address, an object nor a list.")
    names: list[Any] = [one for one in given if isinstance(one, str)]
    for one in given:
        names += one.values() if isinstance(one, dict) else []
    if not any(isinstance(name, str) and _same_context(name) for name in names):
        raise UnreadableNoteError(f"The @context does not name {CONTEXT}.")


def _same_context(name: str) -> bool:
    plain = name.rstrip("#/").removeprefix("https:").removeprefix("http:")
    return plain == CONTEXT.removeprefix("https:")


def _types(thing: Mapping[str, Any], what: str) -> set[str]:
    """Return the types of a thing without their prefix (core section 4.1: one or several)."""
    given = thing.get("type", thing.get("@type", []))
    kinds = given if isinstance(given, list) else [given]
    if not all(isinstance(kind, str) for kind in kinds):
        raise UnreadableNoteError(f"The type of {what.lower()} is not a text.")
    return {kind.removeprefix(f"{CONTEXT}#").removeprefix("as:") for kind in kinds}


def _check_id(thing: Mapping[str, Any], what: str) -> str:
    """Return a thing's id, "" when it has none; an id is one absolute address."""
    given = thing.get("id", thing.get("@id"))
    if given is None:
        return ""
    if not isinstance(given, str):
        raise UnreadableNoteError(f"The id of {what.lower()} is not a text.")
    if not _SCHEME.fullmatch(given):
        raise UnreadableNoteError(f"The id of {what.lower()} is not an address.")
    return given[:2000]


def _each(thing: Mapping[str, Any], field: str) -> Iterator[Any]:
    """Yield the values of a field that may hold none, one or a list; each a text or an object."""
    given = thing.get(field)
    values = given if isinstance(given, list) else [given]
    if len(values) > MOST_ITEMS:
        raise UnreadableNoteError(f"There are more than {MOST_ITEMS} things in {field}.")
    for value in values:
        if value is None:
            continue
        if not isinstance(value, str | dict):
            raise UnreadableNoteError(f"{field} is neither an address nor an object.")
        yield value


def _only(thing: Mapping[str, Any], field: str) -> Any:
    """Return the one value of a field."""
    values = list(_each(thing, field))
    if len(values) != 1:
        raise UnreadableNoteError(f"The activity needs exactly one {field}.")
    return values[0]


def _name_of(value: Any) -> str:
    """Return the address of a thing that is one, or an object with an id or a link."""
    if isinstance(value, str):
        return value
    return _check_id(value, "A thing named in it") or _text(value, "href")


def _text(thing: Mapping[str, Any], field: str) -> str:
    """Return a field that is one text, "" when it is missing."""
    given = thing.get(field)
    if given is None:
        return ""
    if not isinstance(given, str):
        raise UnreadableNoteError(f"{field} is not a text.")
    return storable(given)


def _natural(thing: Mapping[str, Any], field: str) -> str:
    """Return a text for people, from its plain form or from its languages (core section 4.7)."""
    given = _text(thing, field)
    languages = thing.get(f"{field}Map")
    if languages is not None and not isinstance(languages, dict):
        raise UnreadableNoteError(f"{field}Map is not an object of languages.")
    for name in languages or ():
        if not _LANGUAGE.fullmatch(name):
            raise UnreadableNoteError(f"{field}Map names a language that is none (RFC 5646).")
    if given or not languages:
        return given
    if not all(isinstance(words, str) for words in languages.values()):
        raise UnreadableNoteError(f"{field}Map holds something that is not a text.")
    by_language = {name.lower(): storable(words) for name, words in languages.items()}
    for name in LANGUAGES:
        if by_language.get(name):
            return by_language[name]
    return next(iter(by_language.values()))


def _plain(thing: Mapping[str, Any], field: str) -> str:
    """Return a text in one line; names and alternative texts hold no markup (core section 4.7)."""
    return " ".join(_natural(thing, field).split())


def _words(post: Mapping[str, Any]) -> str:
    """Return what a post says, its notice of what is in it first."""
    content = _natural(post, "content")
    kind = _text(post, "mediaType").partition(";")[0].strip().lower()
    if kind in {"", "text/html", "application/xhtml+xml"}:  # HTML unless said otherwise
        content = text_of_markup(content, names_links=False)
    summary = text_of_markup(_natural(post, "summary"), names_links=False)
    name = _plain(post, "name")
    parts = [summary, content.strip()] if content.strip() else [name, summary]
    return "\n\n".join(part for part in parts if part)[:MOST_WORDS]


def _actor(thing: Mapping[str, Any], field: str) -> Actor | None:
    """Return who a field names, the first of several."""
    for value in _each(thing, field):
        if isinstance(value, str):
            if not _SCHEME.fullmatch(value):
                raise UnreadableNoteError(f"{field} is not an address.")
            return Actor(id=value, handle=_handle_of(value)[:NAME_CHARS], link=_web(value))
        actor_id = _check_id(value, field)
        said = _text(value, "preferredUsername")
        host = urlsplit(actor_id).hostname or ""
        handle = f"@{said.lstrip('@')}@{host}" if said and host else said or _handle_of(actor_id)
        return Actor(
            id=actor_id,
            name=_plain(value, "name")[:NAME_CHARS],
            handle=handle[:NAME_CHARS],
            link=_page(value) or _web(actor_id),
        )
    return None


def _handle_of(address: str) -> str:
    """Return how people would write the name of an actor who is known by address only."""
    parts = urlsplit(address)
    last = unquote(parts.path.rstrip("/").rpartition("/")[2]).lstrip("@")
    if parts.scheme == "acct":
        return f"@{parts.path.lstrip('@')}"
    return f"@{last}@{parts.hostname}" if last and parts.hostname else address


def _mentions(post: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the names of those a post speaks to (vocabulary: Mention)."""
    tags = [tag for tag in _each(post, "tag") if isinstance(tag, dict)]
    named = [_plain(tag, "name") for tag in tags if "Mention" in _types(tag, "A tag")]
    return tuple(name[:NAME_CHARS] for name in named if name)


def _pictures(post: Mapping[str, Any]) -> tuple[RemotePicture, ...]:
    """Return the pictures and files that belong to a post, each once."""
    found: dict[str, RemotePicture] = {}
    if "Image" in _types(post, "The post"):
        _add(found, _picture(post))
    for field in ("attachment", "image"):
        for value in _each(post, field):
            if isinstance(value, str):
                _add(found, RemotePicture(address=value) if field == "image" else None)
            elif _is_picture(value):
                _add(found, _picture(value))
    return tuple(found.values())[:MOST_PICTURES]


def _is_picture(value: Mapping[str, Any]) -> bool:
    """Return whether an attachment may be a picture or a file, rather than a page to read."""
    media_type = _text(value, "mediaType").lower()
    if media_type:
        return not media_type.startswith(("text/html", "application/xhtml"))
    return bool(_types(value, "An attachment") & PICTURES)


def _picture(value: Mapping[str, Any]) -> RemotePicture | None:
    """Return where a picture stands; of several links that of an image (vocabulary: url)."""
    links = _links(value)
    if not links:
        return None
    images = [link for link in links if link[1].lower().startswith("image/")]
    address, media_type = (images or links)[0]
    alt = _plain(value, "name") or _plain(value, "summary")
    return RemotePicture(
        address=address,
        media_type=media_type or _text(value, "mediaType"),
        alt_text=alt[:ALT_CHARS],
    )


def _add(found: dict[str, RemotePicture], picture: RemotePicture | None) -> None:
    if picture and picture.address:
        found.setdefault(picture.address, picture)


def _links(thing: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return a thing's addresses with their media types: its `url`, or its `href` as a Link."""
    links = []
    for value in _each(thing, "url"):
        if isinstance(value, str):
            links.append((value, ""))
        else:
            links.append((_text(value, "href"), _text(value, "mediaType")))
    if "href" in thing:
        links.append((_text(thing, "href"), _text(thing, "mediaType")))
    for address, _ in links:
        if address and not _SCHEME.fullmatch(address):
            raise UnreadableNoteError("An address in it is not a full one.")
    return [(address, kind) for address, kind in links if address]


def _page(thing: Mapping[str, Any]) -> str:
    """Return where a person can look at a thing, "" when that is not said."""
    links = [(_web(address), kind) for address, kind in _links(thing)]
    pages = [address for address, kind in links if address and kind.startswith("text/html")]
    others = [address for address, kind in links if address and not kind.startswith("image/")]
    return next(iter([*pages, *others]), "")


def _is_web(address: str) -> bool:
    return bool(_web(address))


def _web(address: str) -> str:
    """Return a web address that may stand as a link, else ""."""
    try:
        parts = urlsplit(address)
        is_web = parts.scheme in {"http", "https"} and bool(parts.hostname)
    except ValueError:
        return ""
    return address if is_web and len(address) <= ADDRESS_CHARS else ""


def _moment(thing: Mapping[str, Any], field: str) -> datetime.datetime | None:
    """Return a moment with its offset."""
    given = _text(thing, field)
    if not given:
        return None
    found = _MOMENT.fullmatch(given.strip())
    try:
        if found is None:
            raise ValueError
        day, minutes, seconds, offset = found.groups()
        return datetime.datetime.fromisoformat(
            f"{day}T{minutes}{(seconds or ':00')[:3]}{offset.upper().replace('Z', '+00:00')}"
        )
    except ValueError:
        raise UnreadableNoteError(f"{field} is not a moment with its offset (RFC 3339).") from None
