"""The one door to the compiler: `kernel` marks a loop that numba compiles and caches."""

from collections.abc import Callable
from typing import Any, cast

import numba

__all__ = ["kernel"]


def kernel(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a loop over arrays, keeping the machine code in the cache beside the source.

    Division follows numpy (no ZeroDivisionError); fast-math stays off because exact comparison of
    heights is what the kernels are for.
    """
    return cast(Callable[..., Any], numba.njit(cache=True, nogil=True, error_model="numpy")(function))
