"""The air and its state: properties that the flow needs, and velocity and temperature at one time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sim.airflow.domain import Domain
from sim.case.constants import GRAVITY
from sim.machine.brief import Brief

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class AirProperties:
    """Constant properties of a Boussinesq fluid.

    Attributes
    ----------
    viscosity : float [m²/s]
        Kinematic, ν.
    diffusivity : float [m²/s]
        Of heat, α.
    buoyancy : float [m/(s² K)]
        g β: upward acceleration per kelvin.
    conductivity : float [W/(m K)]
        k; the heat capacity ρ c is k / α.
    """

    viscosity: float
    diffusivity: float
    buoyancy: float
    conductivity: float

    @property
    def prandtl(self) -> float:
        """ν / α [-]."""
        return self.viscosity / self.diffusivity

    @property
    def heat_capacity(self) -> float:
        """ρ c [J/(m³ K)]."""
        return self.conductivity / self.diffusivity

    def rayleigh(self, length: float, difference: float) -> float:
        """g β ΔT L³ / (ν α) [-]."""
        return self.buoyancy * difference * length**3 / (self.viscosity * self.diffusivity)

    def __str__(self) -> str:
        return "\n".join([
            "air",
            f"├─ viscosity     {self.viscosity:.4g} m²/s",
            f"├─ diffusivity   {self.diffusivity:.4g} m²/s (Prandtl {self.prandtl:.3g})",
            f"├─ buoyancy      {self.buoyancy:.4g} m/(s² K)",
            f"└─ conductivity  {self.conductivity:.4g} W/(m K)",
        ])


def air_of_numbers(rayleigh: float, prandtl: float) -> AirProperties:
    """Air for a dimensionless problem: lengths in L, temperatures in ΔT, times in L²/α, heat fluxes in k ΔT / L.

    Heat flows per length and depth are then Nusselt numbers, velocities are in α/L.
    """
    if rayleigh < 0.0 or prandtl <= 0.0:
        raise ValueError(f"rayleigh is {rayleigh} and prandtl {prandtl}; must be ≥ 0 and > 0")
    return AirProperties(viscosity=prandtl, diffusivity=1.0, buoyancy=rayleigh * prandtl, conductivity=1.0)


def air_at(temperature: float) -> AirProperties:
    """Real air at a mean temperature [K] and 101325 Pa; its expansion is that of an ideal gas, β = 1/T."""
    from sim.case.fluids import air_properties

    air = air_properties(temperature)
    return AirProperties(
        viscosity=float(air.kinematic_viscosity),
        diffusivity=float(air.diffusivity),
        buoyancy=GRAVITY / temperature,
        conductivity=float(air.conductivity),
    )


def air_like(
    temperature: float,
    *,
    viscosity: float | None = None,
    diffusivity: float | None = None,
    expansion: float | None = None,
    conductivity: float | None = None,
) -> AirProperties:
    """Real air at a mean temperature [K] but for the stated properties [m²/s], [m²/s], [1/K], [W/(m K)]."""
    real = air_at(temperature) if None in (viscosity, diffusivity, conductivity) else None
    return AirProperties(
        viscosity=viscosity or real.viscosity,  # type: ignore[union-attr]
        diffusivity=diffusivity or real.diffusivity,  # type: ignore[union-attr]
        buoyancy=GRAVITY * (expansion or 1.0 / temperature),
        conductivity=conductivity or real.conductivity,  # type: ignore[union-attr]
    )


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Flow(Brief):
    """Velocity and temperature of the air at one time; a march can start from it.

    Attributes
    ----------
    velocity : three arrays (nx+1, ny, nz), (nx, ny+1, nz), (nx, ny, nz+1) [m/s]
        On the faces normal to x, y and z.
    temperature : (nx, ny, nz) [K]
        In the cells; inside solids a value without meaning.
    time : float [s]
    steps : int
        Steps taken since the start.
    stop_reason : str
        Why the march ended; empty for a start.
    pressure : (nx, ny, nz) [m²/s²], optional
        Mean of p/ρ over the last step, but for what counts as hydrostatic; the next one begins with it. None where a
        march begins anew.
    """

    velocity: tuple[Array, Array, Array]
    temperature: Array
    time: float = 0.0
    steps: int = 0
    stop_reason: str = ""
    pressure: Array | None = None

    @property
    def cell_velocity(self) -> Array:
        """Velocity at the cell centres (3, nx, ny, nz) [m/s]."""
        u, v, w = self.velocity
        return 0.5 * np.stack([u[1:] + u[:-1], v[:, 1:] + v[:, :-1], w[:, :, 1:] + w[:, :, :-1]])

    @property
    def speed(self) -> Array:
        """Speed at the cell centres (nx, ny, nz) [m/s]."""
        return np.sqrt(np.sum(self.cell_velocity**2, axis=0))

    def __str__(self) -> str:
        t = self.temperature
        return "\n".join([
            f"flow at {self.time:.6g} s, step {self.steps}",
            f"├─ speed        at most {self.speed.max():.4g} m/s",
            f"├─ temperature  {t.min():.6g} to {t.max():.6g} K",
            f"└─ stopped      {self.stop_reason or 'not yet marched'}",
        ])


def resting_flow(domain: Domain, temperature: object) -> Flow:
    """Air at rest with a temperature [K] that broadcasts to the cells."""
    nx, ny, nz = domain.shape
    velocity = (np.zeros((nx + 1, ny, nz)), np.zeros((nx, ny + 1, nz)), np.zeros((nx, ny, nz + 1)))
    return Flow(velocity, np.broadcast_to(np.asarray(temperature, dtype=np.float64), domain.shape).copy())


def transfer_flow(flow: Flow, source: Domain, target: Domain) -> Flow:
    """The flow on another grid of the same space, interpolated linearly; a march makes it free of divergence."""
    velocity = tuple(
        interpolate(field, _lines(source, component), _lines(target, component))
        for component, field in enumerate(flow.velocity)
    )
    temperature = interpolate(flow.temperature, source.centres, target.centres)
    x, y, z = velocity
    return Flow((x, y, z), temperature, flow.time, flow.steps)


def _lines(domain: Domain, component: int) -> tuple[Array, ...]:
    """Coordinates of a velocity component along the three axes."""
    return tuple(domain.edges[a] if a == component else domain.centres[a] for a in range(3))


def interpolate(field: Array, source: Sequence[Array], target: Sequence[Array]) -> Array:
    """Linear interpolation along one axis after another; beyond the last line its value holds.

    The field is (nx, ny, nz), in any unit; `source` holds the lines of its three axes, (nx,), (ny,), (nz,) [m], and
    `target` those wanted.
    """
    for axis in range(3):
        place = np.interp(target[axis], source[axis], np.arange(source[axis].size))
        low = np.minimum(place.astype(np.intp), max(source[axis].size - 2, 0))
        share = (place - low).reshape([-1 if a == axis else 1 for a in range(3)])
        high = np.minimum(low + 1, source[axis].size - 1)
        field = (1.0 - share) * np.take(field, low, axis) + share * np.take(field, high, axis)
    return field
