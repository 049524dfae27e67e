"""The logbook's server: records, pages, the queue of measurings, and the doors to `analysis/`."""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("layerwitness")
except PackageNotFoundError:  # run from a checkout that was not installed
    __version__ = "0+checkout"
