"""A floor covering of one's own, by conductivity and thickness in inches, beside one of the library."""

# %%
import joistbay

# The library lends what is not stated: density and heat capacity, and how warm such a floor may get.
case = joistbay.load_bay("cases/demo/family-oak.toml")
bamboo = case.with_(
    {"floor.covering[0]": {"material": "oak", "conductivity": "1.2 Btu*in/(h*ft^2*degF)", "thickness": "5/8 in"}}
)
print(bamboo.floor.coverings[0])

# %% What the library knows of oak, and where from.
print(joistbay.load_materials()["oak"])

# %%
both = joistbay.compare({"oak": case, "bamboo": bamboo})
print(both)
