"""What the layers at walls do not see of a mesh, where no companion on larger cells has been computed.

They bound the heat of walls, and a floor's ripple hangs on plumes too, which may be thinner than cells. Halving all
cells of bays with 3.1 to 3.5 mm at walls changed the ripple by up to 7 % where tubes or plates hang or a bare tube
heats the sheathing (seven bays; in the films' set by 6 % in 19 of 20 twins), and in one of the seven layers alone told
less; by 0.8 % at most where plates are fastened to the sheathing (four bays and three twins). 5 mm at walls were 20 %
off in a bare bay. Over plates hung flat, where cells grow faster from finer walls, halving all changed it by 4 to 9 %
(five bays), a third of which is still to come (`docs/air-mesh.md`).
"""

from __future__ import annotations

SHARE, SHARE_FASTENED, SHARE_FLAT = 0.10, 0.015, 0.14
"""Share of the ripple at USUAL cells at walls: of what hangs, under fastened plates, and over plates hung flat."""

USUAL = 3.5e-3
"""Cells at walls that these shares belong to [m]; they go with the square."""

MOST = 0.5
"""Largest such share."""

TOO_COARSE = 2.0
"""By how much the bound of layers widens where cells twice as large are too few for a flow: then hardly four lie across
the air, fewer than in any run that the bound was held against."""


def unseen_share(wall: float, fastened: bool, flat: bool = False) -> float:
    """Share of a floor's ripple left open beside what layers tell [-].

    Parameters
    ----------
    wall : size of the cells at walls [m], as many times larger as they grow faster from there than by a quarter.
    fastened, flat : whether plates at the sheathing spread the heat, or plates hang flat.

    Examples
    --------
    >>> round(unseen_share(0.0035, False), 3), round(unseen_share(0.005, False), 3), unseen_share(0.0035, True)
    (0.1, 0.204, 0.015)
    """
    share = SHARE_FASTENED if fastened else SHARE_FLAT if flat else SHARE
    return min(share * (wall / USUAL) ** 2, MOST)
