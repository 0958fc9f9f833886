"""Exposure and published scores; import the module you need, this package imports nothing by itself."""
