"""Plate spacings side by side, at equal water and at equal heat, as pandas tables and a picture."""

# %%
import joistbay

case = joistbay.load_bay("cases/demo/family-oak.toml")
found = joistbay.compare(case, "plates.spacing", ["9 in", "12 in", "none"], workers=2)
print(found)

# %% Columns are keys of the report; each ends in its unit.
table = found.to_pandas("heat")
print(table[["water_supply_C", "surface_peak_C", "ripple_K", "share_down_percent"]].round(2))

# %% The picture of one of them.
at_water = found.choices[0].at_water
if at_water is not None:
    joistbay.draw_floor_map(at_water).savefig("floor.png")
