"""Reads the form of a page as a browser would send it when nothing is touched."""

from html.parser import HTMLParser


class _Form(HTMLParser):
    """Collects names and values of the controls that a browser would send."""

    def __init__(self) -> None:
        super().__init__()
        self.values: dict[str, list[str]] = {}
        self._select = ""
        self._options: list[tuple[str, bool]] = []
        self._textarea = ""
        self._text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = {name: value or "" for name, value in attrs}
        name = named.get("name", "")
        if tag == "input" and name:
            ticked = named["type"] not in ("radio", "checkbox") or "checked" in named
            if ticked and named["type"] != "submit":
                self.values.setdefault(name, []).append(named.get("value", ""))
        elif tag == "select":
            self._select, self._options = name, []
        elif tag == "option" and self._select:
            self._options.append((named.get("value", ""), "selected" in named))
        elif tag == "textarea":
            self._textarea, self._text = name, ""

    def handle_data(self, data: str) -> None:
        if self._textarea:
            self._text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "select" and self._select:
            chosen = [value for value, selected in self._options if selected] or [self._options[0][0]]
            self.values[self._select] = chosen
            self._select = ""
        elif tag == "textarea" and self._textarea:
            self.values[self._textarea] = [self._text.removeprefix("\n")]
            self._textarea = ""


def untouched(html: str) -> dict[str, list[str]]:
    """What the page's forms would send as they stand, the token against forgery left out."""
    parser = _Form()
    parser.feed(html)
    parser.values.pop("csrfmiddlewaretoken", None)
    return parser.values
