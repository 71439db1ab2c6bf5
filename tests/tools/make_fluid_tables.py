"""Write the property tables that `sim/case/fluids.py` reads, from CoolProp.

Run from the repository root:  python tests/tools/make_fluid_tables.py

Water and air come from the reference equations of state in CoolProp (IAPWS-95 with the IAPWS transport
formulas; Lemmon et al. 2000 for air); propylene glycol in water from its incompressible fluid "MPG"
(Melinder 2010), with the mass fraction of glycol as the composition.
"""

from __future__ import annotations

from pathlib import Path

import CoolProp
import numpy as np
from CoolProp.CoolProp import PropsSI

FOLDER = Path(__file__).parents[2] / "sim" / "case"
ZERO_CELSIUS = 273.15
LIQUID_CELSIUS = np.arange(0.0, 95.1, 5.0)
AIR_CELSIUS = np.arange(-40.0, 120.1, 5.0)
GLYCOL = np.round(np.arange(0.0, 0.501, 0.05), 2)
COLUMNS = "density_kg_m3,specific_heat_J_kgK,conductivity_W_mK,viscosity_Pa_s"


def properties(fluid: str, celsius: float, pressure: float) -> list[float]:
    """Density, specific heat, conductivity and dynamic viscosity at one state."""
    return [PropsSI(key, "T", celsius + ZERO_CELSIUS, "P", pressure, fluid) for key in "DCLV"]


def write_table(name: str, title: str, head: str, rows: list[list[float]]) -> None:
    """Write one table with its provenance on top."""
    lines = [f"# {title}; CoolProp {CoolProp.__version__}; made by tests/tools/make_fluid_tables.py", head]
    lines += [",".join(f"{value:.8g}" for value in row) for row in rows]
    (FOLDER / name).write_text("\n".join(lines) + "\n")


def main() -> None:
    """Write the three tables."""
    head = f"temperature_K,{COLUMNS}"
    write_table("fluids_water.csv", "Water at 2 bar, IAPWS-95", head,
                [[t + ZERO_CELSIUS, *properties("Water", t, 2e5)] for t in LIQUID_CELSIUS])
    write_table("fluids_air.csv", "Dry air at 101325 Pa", head,
                [[t + ZERO_CELSIUS, *properties("Air", t, 101325.0)] for t in AIR_CELSIUS])
    write_table("fluids_propylene_glycol.csv", "Propylene glycol in water at 2 bar, INCOMP::MPG",
                f"glycol_mass_fraction,{head}",
                [[x, t + ZERO_CELSIUS, *properties(f"INCOMP::MPG[{x}]", t, 2e5)]
                 for x in GLYCOL for t in LIQUID_CELSIUS])


if __name__ == "__main__":
    main()
