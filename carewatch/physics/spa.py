"""
The solar position algorithm of pvlib, without the package around it.

`import pvlib` loads all of pvlib, pandas and scipy with it: more than a second and 60 MiB for one module that needs
only numpy. Its file is found through the import system and loaded alone; nothing of it is copied.
"""

import importlib.util
from importlib.machinery import ModuleSpec
from types import ModuleType


def load_spa() -> ModuleType:
    """
    The module pvlib.spa (NREL's SPA, Reda & Andreas 2004), loaded by itself.

    Raises ImportError when pvlib is not installed or no longer has that module.
    """
    package = importlib.util.find_spec("pvlib")
    if package is None or not package.submodule_search_locations:
        raise ImportError("pvlib is not installed; the sun's position needs its module spa")
    for folder in package.submodule_search_locations:
        found = importlib.util.spec_from_file_location("carewatch_pvlib_spa", f"{folder}/spa.py")
        if found is not None and found.loader is not None:
            return _loaded(found)
    raise ImportError("this pvlib has no module spa")


def _loaded(spec: ModuleSpec) -> ModuleType:
    module = importlib.util.module_from_spec(spec)
    if spec.loader is None:
        raise ImportError("pvlib's module spa cannot be loaded")
    spec.loader.exec_module(module)
    return module
