"""The laws: gas, air, burning, heat, ping, friction, spark and distributor, in plain SI numbers and arrays."""
