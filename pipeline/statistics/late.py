"""What inference alone needs, imported by the first value asked of it; quiet nights do without."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scipy import interpolate, optimize, stats
    from scipy.optimize import elementwise
    from scipy.sparse import linalg
    from scipy.stats import binom, chi2, f, nbinom, norm, poisson, t
    from statsmodels.duration import survfunc
    from statsmodels.stats import meta_analysis
else:

    class _Late:
        """Stands for a module, or something in it, until something of that is read."""

        def __init__(self, module: str, name: str = "") -> None:
            self._module, self._name = module, name

        def __getattr__(self, name: str) -> Any:
            return getattr(self._read(), name)

        def __call__(self, *given: Any, **named: Any) -> Any:
            return self._read()(*given, **named)

        def _read(self) -> Any:
            module = import_module(self._module)
            return getattr(module, self._name) if self._name else module

    interpolate, stats = _Late("scipy.interpolate"), _Late("scipy.stats")
    optimize, elementwise = _Late("scipy.optimize"), _Late("scipy.optimize.elementwise")
    linalg = _Late("scipy.sparse.linalg")
    meta_analysis = _Late("statsmodels.stats.meta_analysis")
    survfunc = _Late("statsmodels.duration.survfunc")
    binom, chi2, f, nbinom, norm, poisson, t = (
        _Late("scipy.stats", name)
        for name in ("binom", "chi2", "f", "nbinom", "norm", "poisson", "t")
    )

__all__ = [
    "binom", "chi2", "elementwise", "f", "interpolate", "linalg", "meta_analysis", "nbinom",
    "norm", "optimize", "poisson", "stats", "survfunc", "t",
]  # fmt: skip
