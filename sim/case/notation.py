"""How people write numbers, lengths and units: a small grammar, so that nothing else ever reaches the unit library.

    number   12   -1.5   2e-3   3/4   11 7/8   11-7/8   1½
    length   a number with in, ", ft, ', mm, ...;   14'-6"   14' 6 1/2"   14 ft 6 in;   a last o.c. is left out
    unit     names of the table below;  * / and brackets;  powers m^2, m², m2, s^-1;
             a space, a hyphen or a dot · joins closer than a slash: Btu/hr-ft2-F is Btu/(hr*ft2*F)
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from types import MappingProxyType

LONGEST = 80
"""Characters of a quantity, number and unit; what is longer is no quantity [-]."""

HIGHEST_POWER = 6
"""Powers of a unit lie within plus and minus this [-]."""

NOTATIONS = """Numbers: 12, 1.5, 2e-3, 3/4, 11 7/8, 11-7/8, 1½. No thousands commas, no decimal commas.
Lengths: mm, cm, m, in, ", ft, ', yd; feet and inches as 14'-6", 14' 6 1/2", 14 ft 6 in; "o.c." may follow.
In TOML, text with " stands in single quotes: '3/4"'; with both marks in three: \'\'\'14'-6"\'\'\'.
Temperatures: degC, degF, °C, °F, K. Temperature differences: K, degF, degC. Insulation: R-19, RSI-3.3, tog.
Powers: W, kW, Btu/h, Btu/hr, MBH. Flows: l/min, lpm, gpm, kg/s, m^3/h. Pressures: kPa, bar, psi, ftH2O.
Units are joined with * / ( ) and powers: W/(m^2*K), W/m2K, Btu/hr-ft2-F, Btu*in/(h*ft^2*degF)."""
"""What is understood, for people."""

_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3"}
_MARKS = str.maketrans("′’‘″”“–−μº", "'''\"\"\"--µ°")

_FRACTION = r"(?:[0-9]+(?:\s+|-))?[0-9]+\s*/\s*[0-9]+(?![\d.])"
_DECIMAL = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(rf"\s*([+-]?)\s*({_FRACTION}|{_DECIMAL})")
_FEET = r"(?:'|ft\.?|foot|feet)"
_INCHES = r"(?:\"|''|in\.?|inch|inches)"
_FEET_AND_INCHES = re.compile(
    rf"([+-]?)({_FRACTION}|{_DECIMAL})\s*{_FEET}\s*-?\s*({_FRACTION}|{_DECIMAL})\s*{_INCHES}", re.IGNORECASE
)
_ON_CENTRE = re.compile(r"[\s,]*\b(?:o\.\s?c\.?|oc|on[ -]cent(?:er|re)s?)$", re.IGNORECASE)


def tidy_marks(text: str) -> str:
    """Text with plain quotes, hyphens and fractions, without "o.c." at its end; blanks round it go."""
    for sign, plain in _VULGAR.items():
        text = text.replace(sign, f" {plain} ") if sign in text else text
    return _ON_CENTRE.sub("", text.translate(_MARKS).strip()).strip()


def read_number(text: str) -> tuple[float, str] | None:
    """The number that a text begins with, and the rest; None when there is none or it divides by 0.

    Feet and inches come back as inches. Too many digits give infinity.

    >>> read_number("11 7/8 in"), read_number("14'-6\\"")
    ((11.875, 'in'), (174.0, 'in'))
    """
    if both := _FEET_AND_INCHES.fullmatch(text):
        feet, rest = _value(both[2]), _value(both[3])
        if feet is None or rest is None or rest >= 12.0:
            return None
        return (-1.0 if both[1] == "-" else 1.0) * (12.0 * feet + rest), "in"
    match = _NUMBER.match(text)
    number = _value(match[2]) if match else None
    if match is None or number is None:
        return None
    return (-number if match[1] == "-" else number), text[match.end() :].strip()


def beyond_a_foot(text: str) -> bool:
    """Whether a text gives feet and inches, but twelve inches or more.

    >>> beyond_a_foot("5 ft 14 in"), beyond_a_foot("5 ft 11 in")
    (True, False)
    """
    both = _FEET_AND_INCHES.fullmatch(text)
    rest = _value(both[3]) if both else None
    return rest is not None and rest >= 12.0


def _value(text: str) -> float | None:
    """A number without sign; None for a fraction over 0."""
    head, slash, below = text.partition("/")
    if not slash:
        return float(text)
    *whole, above = re.split(r"[\s-]+", head.strip())
    if int(below) == 0:
        return None
    return (int(whole[0]) if whole else 0) + int(above) / int(below)


def _metric(names: str, prefixes: str) -> dict[str, str]:
    return {prefix + name: prefix + name for name in names.split() for prefix in ("", *prefixes.split())}


def _words(table: Mapping[str, str]) -> dict[str, str]:
    return {name: unit for unit, names in table.items() for name in names.split()}


_EXACT: Mapping[str, str] = MappingProxyType(
    _metric("m g", "k c d m µ u n")
    | _metric("meter metre meters metres", "kilo centi deci milli micro")
    | _metric("W watt J joule Pa", "k M h m")
    | _metric("Wh cal", "k M")
    | _metric("l L s", "m c d µ")
    | _metric("bar", "m")
    | _words({"watt": "watts", "joule": "joules", "liter": "liter litre liters litres", "K": "K kelvin Kelvin"})
    | _words({"degC": "degC °C C celsius Celsius ℃", "degF": "degF °F F fahrenheit Fahrenheit ℉"})
    | _words({"delta_degC": "delta_degC", "delta_degF": "delta_degF", "degR": "degR rankine"})
    | _words({"day": "d", "hour": "h", "N": "N", "Btu": "Btu", "kBtu": "kBtu", "metric_ton": "t tonne"})
)
"""Names that count as they are written, and what the unit library calls them."""

_ANY_CASE: Mapping[str, str] = MappingProxyType(
    _words(
        {
            "inch": "in inch inches \" ''",
            "foot": "ft foot feet '",
            "yard": "yd yard yards",
            "mile": "mi mile miles",
            "mil": "mil mils",
            "pound": "lb lbs lbm pound pounds",
            "ounce": "oz ounce ounces",
            "gallon": "gal gallon gallons",
            "Btu": "btu btus",
            "Btuh": "btuh",
            "MBH": "mbh",
            "kBtu": "kbtu",
            "gpm": "gpm",
            "lpm": "lpm",
            "cfm": "cfm",
            "tog": "tog togs",
            "psi": "psi",
            "psf": "psf",
            "ftH2O": "fth2o ftwc",
            "inH2O": "inh2o inwc",
            "atm": "atm",
            "degF": "degf",
            "degC": "degc",
            "second": "sec secs second seconds",
            "minute": "min mins minute minutes",
            "hour": "hr hrs hour hours",
            "day": "day days",
            "week": "week weeks",
        }
    )
)
"""Names whose capitals do not matter."""

_GLUED = {
    "W/mK": "W/(m*K)",
    "W/m/K": "W/(m*K)",
    "W/m2K": "W/(m^2*K)",
    "W/m^2K": "W/(m^2*K)",
    "W/mC": "W/(m*K)",
    "W/m2C": "W/(m^2*K)",
    "m2K/W": "m^2*K/W",
    "m^2K/W": "m^2*K/W",
    "mK/W": "m*K/W",
    "J/kgK": "J/(kg*K)",
    "kJ/kgK": "kJ/(kg*K)",
    "Btu/hft^2": "Btu/(h*ft^2)",
    "Btu/hft2": "Btu/(h*ft^2)",
}
"""Common shorthand without signs between its names."""

_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁻", "0123456-")
_SQUARE = re.compile(r"\b(sq\.?|square|cu\.?|cubic)\s*([A-Za-z]+)\b\.?", re.IGNORECASE)
_TOKEN = re.compile(
    r"\s*(?:(?P<name>(?:delta_)?[A-Za-zµ°℃℉]+(?:H2O)?|\"|''|')\.?(?P<digit>[23](?!\d))?|(?P<one>1(?!\d))"
    r"|(?:\^|\*\*)\s*(?P<power>[+-]?\d)(?!\d)|(?P<sign>[*/()·⋅-]))"
)

Factors = tuple[tuple[str, int], ...]
"""Names of the unit library, each with its power."""


class NotationError(ValueError):
    """Text that is no unit."""


def read_unit(text: str) -> Factors:
    """The unit as names of the unit library with their powers.

    >>> read_unit("Btu/hr-ft2-F")
    (('Btu', 1), ('hour', -1), ('foot', -2), ('delta_degF', -1))

    Raises
    ------
    NotationError
        It is none, or one that this program does not know.
    """
    tokens = _Tokens(_plain(text))
    factors = tuple(_product(tokens))
    if not factors or tokens.kind:
        raise NotationError(text)
    if len(factors) == 1 and factors[0][1] == 1:
        return factors
    return tuple((f"delta_{name}" if name in ("degC", "degF") else name, power) for name, power in factors)


def _plain(text: str) -> str:
    text = re.sub(r"[⁰¹²³⁴⁵⁶⁻]+", lambda match: "^" + match[0].translate(_RAISED), text)
    text = re.sub(r"\bdeg\.?\s+([CFK])\b", r"deg\1", text)
    text = _SQUARE.sub(lambda match: f"{match[2]}^{2 if match[1][0] in 'sS' else 3}", text)
    squeezed = text.replace(" ", "").replace("·", "*")
    return _GLUED.get(squeezed, text)


class _Tokens:
    """The tokens of a unit, one after the other; `kind` is empty at the end."""

    def __init__(self, text: str) -> None:
        self._text, self._place = text.strip(), 0
        self.step()

    def step(self) -> None:
        """Go on to the next token."""
        if self._place >= len(self._text):
            self.kind = self.text = self.digit = ""
            return
        match = _TOKEN.match(self._text, self._place)
        if match is None:
            raise NotationError(self._text)
        self._place = match.end()
        self.kind = next(kind for kind in ("name", "one", "power", "sign") if match[kind])
        self.text, self.digit = match[self.kind], match["digit"] or ""

    def take(self, signs: str) -> str:
        """The sign, and a step beyond it, if it is one of these."""
        if self.kind != "sign" or self.text not in signs:
            return ""
        sign = self.text
        self.step()
        return sign


def _product(tokens: _Tokens) -> Iterator[tuple[str, int]]:
    """unit := group ((* or /) group)..., from left to right."""
    sense = 1
    while True:
        yield from ((name, sense * power) for name, power in _group(tokens))
        sign = tokens.take("*/")
        if not sign:
            return
        sense = -1 if sign == "/" else 1


def _group(tokens: _Tokens) -> Iterator[tuple[str, int]]:
    """group := factor ((blank or - or ·) factor)..."""
    yield from _factor(tokens)
    while tokens.take("-·⋅") or tokens.kind in ("name", "one") or (tokens.kind, tokens.text) == ("sign", "("):
        yield from _factor(tokens)


def _factor(tokens: _Tokens) -> Iterator[tuple[str, int]]:
    """factor := 1 before a slash, or a name or (unit), with its power."""
    if tokens.kind == "one":
        tokens.step()
        if (tokens.kind, tokens.text) != ("sign", "/"):
            raise NotationError("1")
        return
    if tokens.take("("):
        inner = list(_product(tokens))
        if not tokens.take(")"):
            raise NotationError("bracket")
    elif tokens.kind == "name":
        inner = [(_known(tokens.text), int(tokens.digit or 1))]
        tokens.step()
    else:
        raise NotationError(tokens.text)
    power = 1
    if tokens.kind == "power":
        power = int(tokens.text)
        tokens.step()
    for name, own in inner:
        if not 0 < abs(own * power) <= HIGHEST_POWER:
            raise NotationError(name)
        yield name, own * power


def _known(name: str) -> str:
    found = _EXACT.get(name) or _ANY_CASE.get(name.lower())
    if found is None:
        raise NotationError(name)
    return found
