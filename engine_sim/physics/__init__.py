"""The laws: gas, air, burning, heat, ping, friction, spark and distributor, in plain SI numbers and arrays.

Every docstring has one form: a sentence that says what is returned, with its unit; shapes; the formula; where it is
valid; what is raised; and the key of its source (published_values.toml), or that it is a calibration.
"""
