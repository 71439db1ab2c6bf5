"""Physical constants that several effects share."""

STEFAN_BOLTZMANN = 5.670374419e-8
"""σ [W/m²K⁴], CODATA 2018."""

ZERO_CELSIUS = 273.15
"""0 °C [K], by definition."""

HOUR = 3600.0
"""An hour [s]."""

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s²], by definition."""

STILL_AIR = 0.0266
"""Conductivity of still air [W/m K] at 30 °C (dry air, CoolProp)."""

ATMOSPHERE = 101325.0
"""Standard pressure of the air [Pa], by definition."""

HOTTEST = ZERO_CELSIUS + 95.0
"""Highest supply temperature tried [K]: hot-water systems are limited below boiling; common practice, no source."""
