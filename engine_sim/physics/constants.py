"""Physical constants, one a line, each with its unit in its name and where its value comes from.

Calibrations of the model stay in the module whose formula they belong to; conversions between units are in `units`.
"""

STANDARD_ATMOSPHERE_PA = 101_325.0  # defined exactly; also sea level's pressure in us_standard_atmosphere_1976
STANDARD_GRAVITY_M_S2 = 9.80665  # defined exactly; us_standard_atmosphere_1976 uses the same
ICE_POINT_K = 273.15  # 0 °C, defined exactly
GAS_CONSTANT_STANDARD_AIR_J_KG_K = 287.05287  # us_standard_atmosphere_1976, for the air outside
GAS_CONSTANT_AIR_J_KG_K = 287.05  # the same to five digits: the air that the engine takes in, as its maps have it
