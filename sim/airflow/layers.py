"""How many cells lie in the thermal layers at the walls: what the heat flow of a wall hangs on most.

A layer is as thick as still air that would let the same heat pass: δ = k |T_wall − T_middle| A / |Q|.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sim.airflow.walls import WallFaces

Array = NDArray[np.float64]


def layer_cells(walls: WallFaces, heat: Array, wall: Array, middle: float, conductivity: float) -> float:
    """Cells at the walls in a thermal layer, as the mean that errors of second order follow; NaN without heat.

    1/n² is the mean of (cell/δ)² over the walls, weighted with their heat.

    Parameters
    ----------
    heat : from every wall face into the air (n,) [W].
    wall : temperature of every wall face (n,) [K], NaN where adiabatic.
    middle : mean temperature of the air [K].
    conductivity : of the air [W/(m K)].
    """
    given = np.isfinite(wall) & (heat != 0.0)
    amount = np.abs(heat[given])
    if not amount.size:
        return float("nan")
    conducted = conductivity * walls.area[given] * np.abs(wall[given] - middle)
    share = np.divide(2.0 * walls.distance[given] * amount, conducted, out=np.ones_like(amount), where=conducted > 0.0)
    return float(np.average(np.minimum(share, 1.0) ** 2, weights=amount) ** -0.5)
