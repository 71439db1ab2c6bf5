"""What to do about a line that is no TOML: what stands there, and what its writer most likely meant."""

from __future__ import annotations

import re

from sim.case.errors import shortened

_PLACE = re.compile(r"\(at line (\d+), column \d+\)")
_PAIR = re.compile(r"^\s*([A-Za-z][\w.-]*)\s*([=:])\s*(.*?)\s*$")
_STRAIGHT = str.maketrans(dict.fromkeys("“”„‟«»", '"') | dict.fromkeys("‘’‚‛", "'"))
"""Quotes that word processors set, and what TOML reads."""
_TWICE = re.compile(r"overwrite|declare|twice|already|mutate", re.IGNORECASE)


def toml_way_out(text: str, error: ValueError) -> str:
    """The line of a text that an error of its reading names, and the way out where it can be guessed.

    Examples
    --------
    >>> toml_way_out("[plates]\\nposition = hung", ValueError("Invalid value (at line 2, column 12)"))
    'there stands: position = hung; texts and values with units stand in quotes: position = "hung"'
    >>> toml_way_out("", ValueError("anything"))
    'mend that line'
    """
    found, lines = _PLACE.search(str(error)), text.splitlines()
    if found is None or not 0 < int(found[1]) <= len(lines):
        return "mend that line"
    line = lines[int(found[1]) - 1].strip()
    return f"there stands: {shortened(line)}; {_guess(line, str(error))}" if line else "mend that line"


def _guess(line: str, said: str) -> str:
    if _TWICE.search(said):
        return "it stands there twice: put what belongs together in one place"
    if line.startswith("["):
        return "a section is a name in square brackets on a line of its own"
    pair = _PAIR.match(line)
    if pair is None:
        return 'a line is a section in square brackets, or key = value, such as length = "14 ft"'
    key, sign, value = pair[1], pair[2], pair[3]
    if sign == ":":
        return f"write = instead of the colon: {shortened(_written(key, value))}"
    if not value:
        return "a value is missing after the ="
    if re.fullmatch(r"\d+,\d+", value):
        number = value.replace(",", ".")
        return f'decimals follow a point, and the unit stands with them in quotes: {key} = "{number} UNIT"'
    return f"texts and values with units stand in quotes: {shortened(_written(key, value))}"


def _written(key: str, value: str) -> str:
    """A key with its value as a text of TOML: single quotes where inches or feet are marked in it."""
    bare = value.split(" #")[0].strip().translate(_STRAIGHT)
    if re.fullmatch(r"[\d.]+|true|false|\[.*|\"[^\"]*\"|'[^']*'", bare):
        return f"{key} = {bare}"
    if len(bare) > 1 and bare[0] == bare[-1] and bare[0] in "\"'":
        bare = bare[1:-1]
    elif bare[:1] in "\"'" and bare.count(bare[0]) == 1:
        bare = bare[1:]
    quote = '"' if '"' not in bare else "'" if "'" not in bare else "'''"
    return f"{key} = {quote}{bare}{quote}"
