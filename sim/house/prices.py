"""What a layout's material costs at the house file's prices; labour, source and pump are not in it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sim.case.house_parts import Prices
    from sim.house.quantities import Amounts


def material_cost(amounts: Amounts, prices: Prices | None) -> float:
    """Σ amount x price over what the file prices [its currency]; NaN where it prices nothing.

    Parameters
    ----------
    amounts : of everything that a layout takes.
    prices : of a metre, a square metre or a piece.
    """
    known = {name: price for name, price in prices if price is not None} if prices else {}
    if not known:
        return math.nan
    counted = {name: "tube_to_buy" if name == "tube" else name for name in known}
    return sum(float(getattr(amounts, counted[name])) * price for name, price in known.items())
