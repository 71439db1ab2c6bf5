"""A loop over plate widths on two processes, and the same with the standard library's pool."""

# %%
from concurrent.futures import ProcessPoolExecutor

import joistbay

case = joistbay.load_bay("cases/demo/family-oak.toml")
widths = [80, 100, 120, 140]
cases = [case.with_({"plates.width": f"{width} mm"}) for width in widths]

# %% One call, results in the order of the cases.
for width, result in zip(widths, joistbay.solve_many(cases, workers=2), strict=True):
    print(f"{width} mm: {result.report['heat_flux_up_W_m2']:.1f} W/m² up, ripple {result.report['ripple_K']:.2f} K")

# %% Any other pool takes `solve` as it is.
if __name__ == "__main__":
    with ProcessPoolExecutor(2) as pool:
        print([round(result.report["ripple_K"], 2) for result in pool.map(joistbay.solve, cases[:2])])
