"""All kernels made ready on the smallest bay that needs them."""

from __future__ import annotations

import numpy as np

from sim.airflow.device.flows import FlowBatch
from sim.airflow.device.seam import Backend
from sim.airflow.device.tables import flow_problem
from sim.airflow.domain import Sheet, build_domain
from sim.airflow.flow import AirProperties, resting_flow
from sim.airflow.subgrid import VREMAN
from sim.airflow.walls import find_walls


def warm_up(backend: Backend, eddies: bool) -> None:
    """Have all kernels compiled, on the smallest bay that needs them, while there is something else to wait for.

    ``eddies``: those for flows with the model of eddies, or those without.
    """
    planes = np.linspace(0.0, 1.0, 4)
    sheet = Sheet("sheet", 2, float(planes[1]), ((0.0, 1.0), (0.0, float(planes[1])), (0.0, 0.0)))
    domain = build_domain([planes] * 3, sheets=[sheet])
    air = AirProperties(viscosity=1.0, diffusivity=1.0, buoyancy=1.0, conductivity=1.0)
    walls = np.zeros(find_walls(domain).count)
    constant = VREMAN if eddies else 0.0
    batch = FlowBatch([flow_problem(domain, air, walls, resting_flow(domain, 0.0), "bounded", constant)], backend)
    batch.means.weights[:] = 1.0
    batch.go_until(0, 1.0)
    batch.look(3)
