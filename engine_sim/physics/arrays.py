"""What a quantity of the model may be: one number, or an array of them."""

from typing import Any, TypeAlias

# A float or a numpy array of floats of any shape. Arguments broadcast, and an answer has their common shape, which a
# type checker cannot follow: one that is given floats gives a float.
Numbers: TypeAlias = Any
