"""Rules every template keeps."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.template import Engine

FOLDER = Path(settings.BASE_DIR) / "templates"
STATIC = Path(settings.BASE_DIR) / "static"
TEMPLATES = sorted(str(p.relative_to(FOLDER)) for p in FOLDER.rglob("*") if p.is_file())
PAGES = [name for name in TEMPLATES if name.endswith(".html")]
PARTS = [name for name in PAGES if Path(name).name.startswith("_")]
TAGS = re.compile(r"{%.*?%}|{{.*?}}|{#.*?#}", re.DOTALL)
STATIC_TAG = re.compile(r"""{%\s*static\s+['"]([^'"]+)['"]""")
FIRST_COMMENT = re.compile(
    r"\A{#\s*(?P<words>.+?)\s*#}|\A{%\s*comment\s*%}(?P<more>.+?){%\s*endcomment", re.DOTALL
)
TARGET = re.compile(r"\ASwap target #([a-z][a-z-]*[a-z])[ .,]")
CSS_ADDRESS = re.compile(r"""url\(\s*['"]?([^'")]+)""")
IMPORT = re.compile(r"""^import\s+(?:[^'"]+\sfrom\s+)?['"]([^'"]+)['"]""", re.MULTILINE)


class Elements(HTMLParser):
    """Collects start tags with their attributes, and what stands inside script and style."""

    def __init__(self, html: str) -> None:
        """Read a template without its tags."""
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.inline = ""
        self._inside = ""
        self.feed(TAGS.sub("", html))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep an element."""
        self.found.append((tag, dict(attrs)))
        self._inside = tag

    def handle_data(self, data: str) -> None:
        """Keep words inside script and style."""
        if self._inside in {"script", "style"}:
            self.inline += data.strip()

    def handle_endtag(self, tag: str) -> None:
        """Leave an element."""
        self._inside = ""


def read(name: str) -> str:
    """Return a template's source."""
    return (FOLDER / name).read_text(encoding="utf-8")


def test_templates_are_there() -> None:
    """The tests below look at something."""
    assert len(PAGES) > 50
    assert len(PARTS) > 10


@pytest.mark.parametrize("name", TEMPLATES)
def test_template_compiles(name: str) -> None:
    """Every template is understood by the engine."""
    assert Engine.get_default().get_template(name).name == name


@pytest.mark.parametrize("name", PAGES)
def test_template_holds_no_inline_script_or_style(name: str) -> None:
    """The policy forbids them, so a browser would ignore what they say."""
    elements = Elements(read(name))

    assert elements.inline == ""
    for tag, attributes in elements.found:
        assert tag != "style"
        assert tag != "script" or "src" in attributes
        assert "style" not in attributes, tag
        assert [a for a in attributes if a.startswith(("on", "hx-on", "hx-vals=js"))] == [], tag
        assert not (attributes.get("href") or "").startswith("javascript:"), tag


@pytest.mark.parametrize("name", PAGES)
def test_link_works_without_htmx(name: str) -> None:
    """What htmx fetches or sends from a link, form or button has an address of its own."""
    for tag, attributes in Elements(read(name)).found:
        if not {"hx-get", "hx-post"} & set(attributes):
            continue
        if tag == "a":
            assert "href" in attributes, attributes
        elif tag == "form":
            assert "action" in attributes, attributes
            wanted = "get" if "hx-get" in attributes else "post"
            assert attributes.get("method") == wanted, attributes
        elif tag == "button":
            assert "formaction" in attributes or attributes.get("type") == "submit", attributes


@pytest.mark.parametrize("name", [n for n in PARTS if n != "components/_sign.html"])
def test_part_says_what_it_is(name: str) -> None:
    """The first line of a part names its target, if it is one, and its context."""
    source = read(name)
    comment = FIRST_COMMENT.match(source)

    assert comment, source[:80]
    words = comment["words"] or comment["more"].strip()
    target = TARGET.match(words)
    if target:
        ids = [a.get("id") for _, a in Elements(source).found]
        assert target[1] in ids


@pytest.mark.parametrize("name", [n for n in PAGES if STATIC_TAG.search(read(n))])
def test_static_file_is_there(name: str) -> None:
    """Every stylesheet, script and picture a template names exists."""
    for address in STATIC_TAG.findall(read(name)):
        assert finders.find(address), address


@pytest.mark.parametrize("path", sorted(STATIC.rglob("*.css")), ids=lambda p: p.name)
def test_stylesheet_names_only_files_of_ours(path: Path) -> None:
    """No stylesheet fetches from elsewhere or names a file that is missing."""
    source = path.read_text(encoding="utf-8")

    assert "@import" not in source
    for address in CSS_ADDRESS.findall(source):
        if not address.startswith(("data:", "#")):
            assert (path.parent / address).exists(), address


@pytest.mark.parametrize("path", sorted(STATIC.rglob("*.js")), ids=lambda p: p.name)
def test_script_imports_only_files_of_ours(path: Path) -> None:
    """No script fetches from elsewhere, writes markup from text or evaluates words."""
    source = path.read_text(encoding="utf-8")

    for address in IMPORT.findall(source):
        assert address.startswith("./"), address
        assert (path.parent / address).exists(), address
    for word in ("eval(", "innerHTML", "document.write", "new Function", "http://", "https://"):
        assert word not in source, word
