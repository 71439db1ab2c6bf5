"""Circuits and manifolds of a layout: split by length, then run with the heat that the bays give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.house.circuit_flow import ENDS, RETURN_BEND, Operation, Pipe, run_circuit
from sim.house.circuits import pulling_order
from sim.house.layout import CircuitResult, ManifoldResult
from sim.house.manifold import join_circuits
from sim.house.place import PlacedRoom, split_room
from sim.house.schemes import Scheme

if TYPE_CHECKING:
    from sim.case.house_case import House


@dataclass(frozen=True, slots=True)
class OpenRoom:
    """A room with its valve open: mean water above it [K], and all heat that it gives for each m² of floor [W/m²]."""

    placed: PlacedRoom
    excess: float
    flux: float


def run_room(house: House, room: OpenRoom, scheme: Scheme, supply: float) -> list[CircuitResult]:
    """The circuits of a room in service at a supply [K] and the scheme's drop."""
    case, bays = room.placed.case, room.placed.bays
    per_metre = room.flux * bays[0].width / bays[0].runs
    split = split_room(house, case, bays, f"{room.placed.room.name}.", per_metre)
    design = Operation(
        supply=supply,
        surroundings=room.placed.room.temperature,
        excess=room.excess,
        drop=scheme.drop,
        glycol=house.design.glycol,
    )
    pipe = Pipe(
        inner_diameter=case.tube.inner_diameter,
        bay_loss=RETURN_BEND * bays[0].runs,
        end_loss=ENDS,
        valve=house.design.valve_kvs,
    )
    known = {bay.name: bay for bay in bays}
    return [
        CircuitResult(
            room=room.placed.room.name,
            manifold=room.placed.room.manifold,
            flow=run_circuit(circuit, design, pipe),
            bays=tuple(known[bay.name] for bay in circuit.bays),
            pulling=pulling_order(circuit),
        )
        for circuit in split.circuits
    ]


def join_manifolds(house: House, circuits: Sequence[CircuitResult]) -> tuple[ManifoldResult, ...]:
    """The manifolds that feed at least one circuit, in the order of the file."""
    return tuple(
        ManifoldResult(
            name=place.name,
            storey=place.storey,
            place=(place.x, place.y),
            water=join_circuits([circuit.flow for circuit in own], house.design.upstream),
        )
        for place in house.manifolds
        if (own := [circuit for circuit in circuits if circuit.manifold == place.name])
    )


def mixed_return(manifolds: Sequence[ManifoldResult], supply: float) -> float:
    """Temperature of the water that comes back from all manifolds [K].

    A manifold that mixes its own return into its supply takes, and sends back, only the share (T_m − T_r)/(T_s − T_r).
    """
    weights, returns = [], []
    for manifold in manifolds:
        water = manifold.water
        share = (manifold.supply - water.returning) / (supply - water.returning)
        capacity = sum(flow.mass_flow * float(flow.fluid.specific_heat) for flow in water.circuits)
        weights.append(share * capacity)
        returns.append(water.returning)
    return sum(w * back for w, back in zip(weights, returns, strict=True)) / sum(weights)
