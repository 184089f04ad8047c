"""A porous top: a part of the buck that is printed with sparse infill and no skin, so that air passes."""
