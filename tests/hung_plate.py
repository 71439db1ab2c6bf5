"""A plate hung in air under a wood lid, a warm round tube touching its underside: the text of a case to fill in."""

HUNG = """
kind = "blocks"
[[box]]
name = "lid"
x = ["0 m", "0.3 m"]
y = ["0 m", "1 m"]
z = ["0 m", "0.02 m"]
conductivity = "0.13 W/(m*K)"
[[box]]
name = "air"
x = ["0 m", "0.3 m"]
y = ["0 m", "1 m"]
z = ["-0.15 m", "0 m"]
air = true
[[box]]
name = "plate"
x = ["{left} m", "{right} m"]
y = ["0 m", "1 m"]
z = ["{under} m", "-0.04 m"]
conductivity = "{conductivity} W/(m*K)"
emissivity = 0.1
[[tube]]
name = "pipe"
axis = "y"
centre = ["0.15 m", "{centre} m"]
along = ["0 m", "1 m"]
outer_diameter = "0.016 m"
temperature = "318 K"
[[face]]
name = "top"
on = "z+"
film = "9 W/(m^2*K)"
ambient = "293 K"
[mesh]
fineness = "{fineness}"
[air]
model = "{model}"
"""


def hung_text(thickness, left=0.09, right=0.21, conductivity=200, fineness="coarse", model="resolved"):
    """The case with a plate of some thickness [m] and conductivity [W/(m K)], 40 mm below the lid."""
    under = -0.04 - thickness
    filled = {"left": left, "right": right, "under": under, "centre": under - 0.008, "conductivity": conductivity}
    return HUNG.format(**filled, fineness=fineness, model=model)
