"""A page as a browser without script sees it: what it declares, its headings, forms and addresses; and who looks."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlencode

from fastapi.testclient import TestClient

FORM = "application/x-www-form-urlencoded"
ORIGIN = "https://testserver"
UNSEEN = frozenset({"script", "style"})
VOID = frozenset({"input", "meta", "link", "br"})


@dataclass
class SentForm:
    """Is one form of a page: where it goes, its fields as the page filled them, and whether it can be sent."""

    method: str
    action: str
    fields: dict[str, str] = field(default_factory=dict)
    texts: list[str] = field(default_factory=list)
    buttons: int = 0


@dataclass
class Seen(HTMLParser):
    """Is what stands in a page."""

    html: str
    attributes: dict[str, str | None] = field(default_factory=dict)
    headings: int = 0
    forms: list[SentForm] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    links: list[str] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    text: list[str] = field(default_factory=list)
    _open: list[str] = field(default_factory=list)
    _select: str = ""
    _area: str = ""

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.feed(self.html)
        self.close()

    @property
    def words(self) -> str:
        """Returns the text of the page outside of fields."""
        return " ".join(self.text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Takes the beginning of an element."""
        own = dict(attrs)
        self._judge(tag, own)
        if tag == "html":
            self.attributes = own
        self.headings += tag == "h1"
        self.ids += [one for one in (own.get("id"),) if one]
        self._of_form(tag, own)
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Takes the end of an element."""
        while self._open and self._open.pop() != tag:
            pass
        if tag == "textarea":
            self._area = ""

    def handle_data(self, data: str) -> None:
        """Takes text."""
        if self._area and self.forms:
            self.forms[-1].fields[self._area] += data
        elif not self._open or self._open[-1] not in UNSEEN:
            self.text.append(data)
        if self._open and self._open[-1] in UNSEEN and data.strip():
            self.faults.append(f"text within <{self._open[-1]}>")

    def _judge(self, tag: str, own: dict[str, str | None]) -> None:
        if tag == "style" or "style" in own or (tag == "script" and "src" not in own):
            self.faults.append(f"<{tag}> with style or script within the page")
        self.faults += [f"<{tag} {name}>" for name in own if name.startswith("on")]
        for name in ("href", "src", "action", "formaction", "poster", "data"):
            address = own.get(name)
            if address is None:
                continue
            self.links.append(address)
            if not address.startswith(("/", "#", "data:image/")) or address.startswith("//"):
                self.faults.append(f"<{tag} {name}={address[:80]}>")

    def _of_form(self, tag: str, own: dict[str, str | None]) -> None:
        if tag == "form":
            self.forms.append(SentForm((own.get("method") or "get").lower(), own.get("action") or ""))
        if not self.forms or "form" not in self._open:
            return
        form, name, kind = self.forms[-1], own.get("name") or "", own.get("type") or "text"
        if tag == "button" and kind in ("text", "submit"):
            form.buttons += 1
        elif tag == "textarea":
            self._area = name
            form.fields[name] = ""
            form.texts.append(name)
        elif tag == "select":
            self._select = name
        elif tag == "option" and (self._select not in form.fields or "selected" in own):
            form.fields[self._select] = own.get("value") or ""
        elif tag == "input" and kind not in ("checkbox", "radio"):
            form.fields[name] = own.get("value") or ""
            form.texts += [name] if kind in ("text", "search") else []


@dataclass
class Visitor:
    """Is a browser before the served pages; its cookies are whoever signed in last."""

    client: TestClient

    def get(self, path: str, **more: Any) -> Any:
        """Returns the response to a page that is asked for; nothing is followed."""
        return self.client.get(path, follow_redirects=False, headers={"Accept-Language": "en"}, **more)

    def post(self, path: str, fields: dict[str, Any] | None = None, **headers: str) -> Any:
        """Returns the response to a form."""
        sent = {"Origin": ORIGIN, "Sec-Fetch-Site": "same-origin", "Content-Type": FORM, "Accept-Language": "en"}
        wanted = sent | {name.replace("_", "-"): value for name, value in headers.items()}
        wanted = {name: value for name, value in wanted.items() if value}
        return self.client.post(path, content=urlencode(fields or {}), headers=wanted, follow_redirects=False)

    def sign_in(self, badge: str, pin: str, station: str) -> None:
        """Signs somebody in, with cookies of their own."""
        self.client.cookies.clear()
        told = self.post("/sign-in", {"badge": badge, "pin": pin, "station": station, "to": "/"})
        assert told.status_code == 303, told.text
