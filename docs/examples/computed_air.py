"""Air heated from below, computed: a square, dimensionless by its Rayleigh number; its fields and its picture."""

# %%
import joistbay

case = joistbay.load_blocks("cases/air/square-from-below.toml")
slow = case.with_({"air.rayleigh": 1e4, "face[floor].temperature": "1 K"})
for square in (slow, case):
    found = joistbay.solve(square)
    print(f"Nusselt number {found.report['nusselt_floor']:.2f}")

# %% Fields say what they are and in which scale.
print(found.fields["air_temperature"].attrs)
joistbay.draw_air_section(found).savefig("air.png")
