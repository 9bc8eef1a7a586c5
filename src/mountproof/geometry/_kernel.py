"""How kernels that allocate nothing are compiled: such need no count of who holds an array.

Numba counts references wherever an array is taken out of a tuple, which took a sixth of the time of ``draws``. ``_nrt`` is an
option of Numba's own that leaves its counting out; a kernel that allocates is then refused when it is compiled.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from numba import njit

F = TypeVar("F", bound=Callable[..., Any])


def kernel(function: F) -> F:
    """Compile ``function``, which makes no array, string or list; what is compiled is kept beside its source."""
    compiled: F = njit(cache=True, nogil=True, error_model="numpy", _nrt=False)(function)  # type: ignore[call-overload]
    return compiled
