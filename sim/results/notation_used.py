"""Which unit system a case file speaks, from its text."""

from __future__ import annotations

import re
from typing import Literal

_FAHRENHEIT = re.compile(r"[\d\s](?:°F|degF|F)\b\"?")
_CELSIUS = re.compile(r"[\d\s](?:°C|degC|C)\b\"?")
_INCHES = re.compile(r"\d\s*(?:in|inch|inches|ft|feet|\\\"|')\s*\"|gpm|Btu")
_METRES = re.compile(r"\d\s*(?:mm|cm|m)\s*\"|l/min|W/")


def writes_inches(text: str) -> bool | None:
    """Whether more sizes of a case file are in inches and feet than in millimetres; None where they are as many.

    Examples
    --------
    >>> writes_inches('spacing = "50 in"\\nsupply = "50 degC"'), writes_inches('supply = "120 degF"')
    (True, None)
    """
    plain = "\n".join(line.split("#")[0] for line in text.splitlines())
    more = len(_INCHES.findall(plain)) - len(_METRES.findall(plain))
    return more > 0 if more else None


def units_written(text: str) -> Literal["si", "ip"]:
    """The system of a case file's temperatures; of its lengths and flows where it names none, or both alike.

    Examples
    --------
    >>> units_written('supply = "120 degF"'), units_written('spacing = "16 in"\\nsupply = "50 degC"')
    ('ip', 'si')
    """
    lines = [line.split("#")[0] for line in text.splitlines()]
    plain = "\n".join(lines)
    for imperial, metric in ((_FAHRENHEIT, _CELSIUS), (_INCHES, _METRES)):
        more = len(imperial.findall(plain)) - len(metric.findall(plain))
        if more:
            return "ip" if more > 0 else "si"
    return "si"
