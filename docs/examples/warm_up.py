"""From a cold floor to a warm one: hours until it gives 63 % and 90 % of its heat, and the curve as a table."""

# %%
import joistbay

case = joistbay.load_bay("cases/demo/kitchen-vinyl.toml")
found = joistbay.warm_up(case.with_({"time.duration": "4 h"}))
print(f"63 % after {found.report['flux_63_h']:.2f} h, 90 % after {found.report['flux_90_h']:.2f} h")

# %% Series in hours, °C, W/m² and Wh/m².
print(found.to_pandas()[["surface_mean_C", "heat_up_W_m2"]].iloc[::20].round(1))
