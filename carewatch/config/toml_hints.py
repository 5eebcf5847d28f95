"""What a slip in a TOML file probably is, for somebody who has never heard of TOML; nothing of the file is quoted."""

import re

# What the parser says, and what its reader should write instead.
_COMPLAINTS = (
    (r"Cannot declare .* twice|Cannot overwrite a value|Duplicate", "each key and each [table] once"),
    (r"Illegal character '\\n'|Unterminated string|Expected '\"'", "a quotation mark at both ends of a text"),
    (r"Expected '=' after", "key = value on each line, and # before a remark"),
    (r"Expected '\]'|Unclosed array", "a closing bracket"),
    (r"Unclosed inline table|Invalid initial character for a key part", "{ key = value, key = value } on one line"),
)
_SINGLE = re.compile(r"^\s*\[{1,2}(tree|tree\.work|place|notices\.channel)\]")
_DECIMAL_COMMA = re.compile(r"=\s*[-+]?\d+,\d+\s*(#.*)?$")
_BARE_WORD = re.compile(r"=\s*[^\s\"'\[{#\d+-]")
_BARE_DAY = re.compile(r"=\s*\d{1,4}[./]\d{1,2}[./]\d{1,4}\s*(#.*)?$")
_CLOCK_TIME = re.compile(r"=\s*\d{1,2}:\d{2}\s*(#.*)?$")
TRUTHS = ("true", "false", "inf", "nan")
WHOLE = "TOML: key = value, text in quotes, [table] and [[tree]] as in config.example.toml"


def hint(complaint: str, line: str) -> str:
    """What is accepted in place of `line`, about which the parser said `complaint`."""
    value = line.partition("=")[2].strip()
    single = _SINGLE.match(line)
    if single:
        return f"[[{single.group(1)}]] in double brackets, over each of them"
    if _DECIMAL_COMMA.search(line):
        return "a number with a point, not a comma, such as 51.4779"
    if _BARE_DAY.search(line):
        return "a date as year-month-day, such as 2026-03-14"
    if _CLOCK_TIME.search(line):
        return 'a time in quotes, such as "22:00"'
    for pattern, words in _COMPLAINTS:
        if re.search(pattern, complaint):
            return words
    if _BARE_WORD.search(line) and not value.startswith(TRUTHS):
        return 'text in quotes, such as kind = "bench", and true or false without'
    return WHOLE
