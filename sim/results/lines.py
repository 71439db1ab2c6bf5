"""The lines of a report in the order in which it prints them: group, key with its unit, label in plain words."""

from __future__ import annotations

from collections.abc import Mapping

AIR_WALLS = tuple(
    f"{walls}{some}" for walls in ("above", "below", "beside", "parts") for some in ("", "_warm", "_cool")
)
"""Walls of computed air that a report tells of together: all of a kind, and those warmer and cooler than the air."""


def _apart(name: str, label: str) -> tuple[tuple[str, str], ...]:
    """Lines of walls of the air that are in part warmer than it and in part cooler."""
    return tuple(
        (f"air_{what}_{name}_{word}_{unit}", f"{label} {word}er than the air, {told}")
        for word in ("warm", "cool")
        for what, unit, told in (("wall", "C", "mean"), ("heat", "W", "heat into it"), ("film", "W_m2K", "film"))
    )


LINES: Mapping[str, tuple[tuple[str, str], ...]] = {
    "Heat": (
        ("heat_flux_up_W_m2", "upward heat flux"),
        ("heat_flow_up_W", "heat up, modelled part"),
        ("heat_flow_down_W", "heat down, modelled part"),
        ("heat_flow_edge_W", "heat out at the edges, modelled part"),
        ("heat_flow_supplied_W", "heat of the water, modelled part"),
        ("share_down_percent", "share of heat down"),
        ("output_per_kelvin_W_m2K", "output per degree of water above room"),
    ),
    "Floor surface": (
        ("surface_mean_C", "mean"),
        ("surface_peak_C", "warmest spot"),
        ("surface_trough_C", "coolest spot"),
        ("ripple_K", "ripple (warmest - coolest spot)"),
        ("ripple_ratio", "ripple over mean less room"),
        ("surface_map_band_K", "floor map: a spot is known to about ±"),
        ("surface_map_error_K", "floor map: chance in it (one standard error)"),
        ("area_above_29C_percent", "area above 29 °C"),
        ("peak_x_mm", "warmest spot, across the bay"),
        ("peak_y_mm", "warmest spot, along the bay"),
        ("trough_x_mm", "coolest spot, across the bay"),
        ("trough_y_mm", "coolest spot, along the bay"),
    ),
    "Underfoot": (
        ("bare_warmest_C", "bare sole meets the floor, warmest spot"),
        ("bare_coolest_C", "bare sole meets the floor, coolest spot"),
        ("shod_warmest_percent", "people in shoes who mind, warmest spot"),
        ("shod_coolest_percent", "people in shoes who mind, coolest spot"),
    ),
    "Below the floor": (
        ("covering_peak_C", "covering, warmest spot"),
        ("covering_under_rug_peak_C", "covering, warmest spot under a rug"),
        ("plate_mean_C", "plate, mean"),
        ("plate_peak_C", "plate, warmest spot"),
        ("sheathing_peak_C", "subfloor, warmest spot"),
        ("joist_peak_C", "joist, warmest spot"),
        ("cavity_air_C", "cavity air"),
        ("radiant_share_percent", "share of heat to subfloor by radiation"),
        ("convective_share_percent", "share of heat to subfloor by air"),
        ("contact_share_percent", "share of heat to subfloor by contact"),
        ("joist_share_percent", "share of heat to subfloor through joists"),
        ("insulation_share_percent", "share of heat to subfloor by insulation"),
    ),
    "Cavity air": (
        ("air_band_up_percent", "learned films: heat up within ±"),
        ("air_band_down_percent", "learned films: heat down within ±"),
        ("air_band_ripple_percent", "learned films: ripple within ±"),
        ("air_nearer_percent", "place among learned bays (100 %: edge)"),
        ("air_beyond_range_percent", "its heat past correlations' range"),
        ("air_mean_C", "mean temperature"),
        ("air_speed_mean_m_s", "mean speed"),
        ("air_speed_peak_m_s", "highest speed"),
        ("air_plume_m_s", "strongest rise"),
        ("air_plume_x_mm", "strongest rise, across"),
        ("air_plume_y_mm", "strongest rise, along"),
        ("air_plume_z_mm", "strongest rise, height"),
        ("air_plumes", "plumes in the mean flow"),
        ("air_plumes_middle", "plumes on the middle mesh"),
        ("air_plumes_coarser", "plumes on the coarsest mesh"),
        ("air_rayleigh", "Rayleigh number of the cavity's height"),
        ("air_wall_above_C", "walls above, mean"),
        ("air_heat_above_W", "walls above, heat into the air"),
        ("air_film_above_W_m2K", "walls above, film"),
        *_apart("above", "walls above"),
        ("air_wall_below_C", "walls below, mean"),
        ("air_heat_below_W", "walls below, heat into the air"),
        ("air_film_below_W_m2K", "walls below, film"),
        *_apart("below", "walls below"),
        ("air_wall_beside_C", "upright walls, mean"),
        ("air_heat_beside_W", "upright walls, heat into the air"),
        ("air_film_beside_W_m2K", "upright walls, film"),
        *_apart("beside", "upright walls"),
        ("air_wall_parts_C", "plates and tubes, mean"),
        ("air_heat_parts_W", "plates and tubes, heat into the air"),
        ("air_film_parts_W_m2K", "plates and tubes, film"),
        *_apart("parts", "plates and tubes"),
        ("air_error_percent", "largest standard error of a mean heat flow"),
        ("air_mesh_error_percent", "largest mesh error of a heat flow"),
        ("air_companion_cells", "cells of the companion on larger cells (0: none)"),
        ("air_layer_cells", "cells in the thermal layers at walls"),
        ("air_imbalance_percent", "mean heat that the air takes up"),
        ("air_stored_J", "heat taken up by the air since the start, J"),
        ("air_meetings", "exchanges of solids and air"),
        ("air_interval_s", "longest time between two"),
        ("air_samples", "independent samples in the least known mean"),
        ("air_starts", "starts of the flow, each as long as told below"),
        ("air_averaged_s", "averaged over"),
        ("air_time_s", "simulated"),
        ("air_cells", "cells of air"),
        ("air_steps", "steps of the flow"),
        ("air_march_s", "time for the flow"),
    ),
    "Water": (
        ("water_supply_C", "supply"),
        ("water_return_C", "return, modelled part"),
        ("water_mean_C", "mean"),
        ("water_flow_l_min", "flow"),
        ("water_velocity_m_s", "velocity"),
        ("reynolds", "Reynolds number (laminar to 2,300)"),
    ),
    "Resistance from water to room": (
        ("resistance_water_m2K_W", "water film"),
        ("resistance_wall_m2K_W", "tube wall"),
        ("resistance_bond_m2K_W", "tube to plate"),
        ("resistance_plate_m2K_W", "plate"),
        ("resistance_gap_m2K_W", "plate or bare tube to subfloor"),
        ("resistance_sheathing_m2K_W", "subfloor"),
        ("resistance_covering_m2K_W", "covering"),
        ("resistance_room_m2K_W", "floor surface to room"),
    ),
    "Warm-up": (
        ("flux_63_h", "upward heat at 63 %"),
        ("flux_90_h", "upward heat at 90 %"),
        ("flux_overshoot_percent", "upward heat, overshoot"),
        ("flux_end_percent", "upward heat, at the end"),
        ("surface_63_h", "rise of the floor at 63 %"),
        ("surface_90_h", "rise of the floor at 90 %"),
        ("surface_overshoot_percent", "rise of the floor, overshoot"),
        ("surface_end_percent", "rise of the floor, at the end"),
        ("surface_highest_C", "floor, warmest ever"),
        ("water_highest_C", "water, warmest ever"),
        ("wood_highest_C", "wood, warmest ever"),
        ("wood_above_38C_h", "some wood above 38 °C"),
        ("wood_above_52C_h", "some wood above 52 °C"),
        ("wood_above_65C_h", "some wood above 65 °C"),
        ("room_end_C", "room, at the end"),
        ("water_on_h", "water running"),
        ("floor_limit_h", "water held back by the floor limit"),
        ("switches", "starts and stops of the water"),
    ),
    "Energy until the end": (
        ("energy_in_Wh_m2", "given by the water"),
        ("energy_up_Wh_m2", "up"),
        ("energy_down_Wh_m2", "down"),
        ("energy_edge_Wh_m2", "out through the edges"),
        ("energy_stored_Wh_m2", "taken up by the bay"),
    ),
    "Quantities": (
        ("floor_area_m2", "floor area, modelled part"),
        ("tube_m_per_m2", "tube"),
        ("plates_per_m2", "plates"),
    ),
    "Run": (
        ("audit_residual", "energy not accounted for, over given"),
        ("cells", "cells"),
        ("outer_iterations", "rounds of the solver"),
        ("solve_time_s", "solve time"),
        ("steps", "steps in time"),
        ("march_time_s", "time for all steps"),
        ("step_cell_us", "per step and cell"),
        ("rayleigh", "Rayleigh number"),
        ("prandtl", "Prandtl number"),
        ("simulated", "simulated time in L²/α"),
        ("simulated_s", "simulated time"),
        ("steady", "steady (1) or not (0)"),
        ("divergence", "divergence / velocity gradient (0: no air lost)"),
        ("imbalance_percent", "heat in less heat out"),
        ("kinetic_energy_change_percent", "kinetic energy, change / work of buoyancy"),
        ("kinetic_energy_growth", "growth of the velocity per L²/α"),
        ("peclet", "highest speed in α/L (Péclet number)"),
        ("disturbance_growth", "growth of a small disturbance per L²/α"),
        ("disturbance_height", "disturbance, height in ΔT"),
        ("disturbance_number", "disturbance, number of the noise"),
        ("disturbance_raised", "disturbance, times raised once it grew"),
        ("disturbance_set_at", "disturbance, set at, in L²/α"),
        ("disturbance_raised_at", "disturbance, raised at, in L²/α"),
        ("disturbance_set_at_s", "disturbance, set at"),
        ("disturbance_raised_at_s", "disturbance, raised at"),
        ("kinetic_energy_advection_percent", "kinetic energy, made by advection / the same"),
    ),
}
"""Group heading -> (report key, label) of each of its lines."""

_OF_TUBES = {
    "film": "film inside",
    "reynolds": "Reynolds number",
    "turbulent": "turbulent (0 %: laminar)",
}
"""Last words of keys of tubes, and how they are told."""


def in_words(stem: str) -> str:
    """A key outside the table, without its unit, as a label.

    Examples
    --------
    >>> in_words("surface_top_mean"), in_words("nusselt_warm"), in_words("tube_coil_film")
    ('surface top mean', 'Nusselt warm', 'tube coil film inside')
    """
    first, _, last = stem.rpartition("_")
    if stem.startswith("tube_") and last in _OF_TUBES:
        return f"{first.replace('_', ' ')} {_OF_TUBES[last]}"
    return stem.replace("_", " ").replace("nusselt", "Nusselt")
