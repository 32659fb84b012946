"""Water as it leaves the group: how thick and how heavy it is, 0–100 °C.

At the 9 bar of a pull both differ from these values, given at atmospheric pressure, by less than 0.1 %.
"""

from functools import lru_cache


@lru_cache(maxsize=8)      # a purged group's water stays as hot as it is, step after step
def viscosity_pa_s(water_c: float) -> float:
    """Dynamic viscosity in Pa·s, −20 to 110 °C.

    IAPWS SR6-08(2011), Revised Supplementary Release on Properties of Liquid Water at 0.1 MPa, equation 7.
    """
    t = (water_c + 273.15) / 300
    return 1e-6 * (280.68 * t**-1.9 + 511.45 * t**-7.7 + 61.131 * t**-19.6 + 0.45903 * t**-40.0)


@lru_cache(maxsize=8)
def density_kg_per_m3(water_c: float) -> float:
    """Density in kg/m³, 0 to 150 °C (above 100 °C extrapolated there as here).

    Kell, Journal of Chemical and Engineering Data 20 (1975) 97–105, equation 16.
    """
    t = water_c
    above = (999.83952 + 16.945176 * t - 7.9870401e-3 * t**2 - 46.170461e-6 * t**3 + 105.56302e-9 * t**4
             - 280.54253e-12 * t**5)
    return above / (1 + 16.879850e-3 * t)
