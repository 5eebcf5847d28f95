"""On which line of a TOML source each key stands; tomllib and pydantic say what is wrong but not where."""

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

# A path into the parsed document, as pydantic gives it: ("tree", 2, "work", 0, "on").
Location = tuple[str | int, ...]

_BARE_END = frozenset(" \t\r\n=.]#,}")
_SCALAR_END = frozenset(",]}#\r\n")


# The same files are read again and again by a service, and by one command more than once.
@lru_cache(maxsize=4)
def lines_of(source: str) -> Mapping[Location, int]:
    """
    The line of every table, key and list item of `source`. [1-based]

    source: text that tomllib has parsed without complaint; other text gives an incomplete answer.
    """
    scanner = _Scanner(source)
    scanner.scan()
    return MappingProxyType(scanner.lines)


def line_of(lines: Mapping[Location, int], location: Location) -> int | None:
    """The line of `location`, or of the nearest thing around it, or None when nothing of it is in the source."""
    for length in range(len(location), 0, -1):
        line = lines.get(location[:length])
        if line is not None:
            return line
    return None


class _Scanner:
    """One pass over a source; `lines` fills up on the way."""

    def __init__(self, source: str) -> None:
        """Stand before the first character."""
        self.source = source
        self.at = 0
        self.lines: dict[Location, int] = {}
        self.list_lengths: dict[Location, int] = {}

    def scan(self) -> None:
        """Read the whole source, statement by statement."""
        table: Location = ()
        while self._skip_blank():
            if self._peek("[["):
                table = self._header(2)
                self._note(table)
            elif self._peek("["):
                table = self._header(1)
                self._note(table)
            else:
                self._statement(table)

    def _statement(self, table: Location) -> None:
        """Read one `key = value` that belongs to `table`."""
        begin = self.at
        location = table
        for part in self._key():
            location = (*location, part)
            self._note(location, begin)
        self.at += 1  # the equals sign, to which _key has come
        self._value(location)

    def _header(self, brackets: int) -> Location:
        """Read `[a.b]` or `[[a.b]]`; the path goes through the newest item of every list of tables on its way."""
        self.at += brackets
        parts = self._key()
        self.at += brackets
        location: Location = ()
        for part in parts[:-1]:
            self._note((*location, part))
            location = self._newest((*location, part))
        location = (*location, parts[-1])
        if brackets == 1:
            return self._newest(location)
        index = self.list_lengths.get(location, 0)
        self.list_lengths[location] = index + 1
        self._note(location)
        return (*location, index)

    def _newest(self, location: Location) -> Location:
        """`location`, or the newest item of it when it is a list of tables."""
        length = self.list_lengths.get(location, 0)
        return (*location, length - 1) if length else location

    def _key(self) -> list[str]:
        """Read a dotted key up to the sign that ends it."""
        parts = []
        while self.at < len(self.source):
            self._skip_space()
            begin = self.at
            if self.source[begin] in "\"'":
                self._quoted()
                parts.append(next(iter(tomllib.loads(f"{self.source[begin : self.at]} = 0"))))
            else:
                while self.at < len(self.source) and self.source[self.at] not in _BARE_END:
                    self.at += 1
                parts.append(self.source[begin : self.at])
            self._skip_space()
            if not self._peek("."):
                break
            self.at += 1
        return parts

    def _value(self, location: Location) -> None:
        """Read one value and note what is inside it."""
        self._skip_space()
        if self._peek("["):
            self._list(location)
        elif self._peek("{"):
            self._inline_table(location)
        elif self._peek('"') or self._peek("'"):
            self._quoted()
        else:
            while self.at < len(self.source) and self.source[self.at] not in _SCALAR_END:
                self.at += 1

    def _list(self, location: Location) -> None:
        """Read `[a, b]`."""
        self.at += 1
        index = 0
        while self._skip_blank() and not self._peek("]"):
            if self._peek(","):
                self.at += 1
                continue
            self._note((*location, index))
            self._value((*location, index))
            index += 1
        self.at += 1

    def _inline_table(self, location: Location) -> None:
        """Read `{ a = 1, b = 2 }`."""
        self.at += 1
        while self._skip_blank() and not self._peek("}"):
            if self._peek(","):
                self.at += 1
                continue
            self._statement(location)
        self.at += 1

    def _quoted(self) -> None:
        """Read a text in any of the four ways of quoting."""
        quote = self.source[self.at]
        mark = quote * 3 if self._peek(quote * 3) else quote
        self.at += len(mark)
        while self.at < len(self.source) and not self._peek(mark):
            self.at += 2 if quote == '"' and self.source[self.at] == "\\" else 1
        self.at += len(mark)
        if len(mark) == 3:
            # Up to two quotes may stand directly before the closing three.
            while self._peek(quote):
                self.at += 1

    def _skip_space(self) -> None:
        while self.at < len(self.source) and self.source[self.at] in " \t":
            self.at += 1

    def _skip_blank(self) -> bool:
        """Skip space, line ends and comments; false at the end of the source."""
        while self.at < len(self.source):
            if self.source[self.at] in " \t\r\n":
                self.at += 1
            elif self.source[self.at] == "#":
                end = self.source.find("\n", self.at)
                self.at = len(self.source) if end < 0 else end
            else:
                return True
        return False

    def _peek(self, text: str) -> bool:
        return self.source.startswith(text, self.at)

    def _note(self, location: Location, at: int | None = None) -> None:
        """Remember where `location` stands first."""
        end = self.at if at is None else at
        self.lines.setdefault(location, self.source.count("\n", 0, end) + 1)
