"""A whole house for each of its heat sources: rooms, water, shortfalls."""

# %%
import joistbay

house = joistbay.load_house("cases/house/demo-house.toml")
plan = joistbay.solve_house(house, workers=2)
for layout in plan.layouts:
    print(layout)

# %% Every table of the house's folder.
print(plan.to_pandas("rooms").head())
