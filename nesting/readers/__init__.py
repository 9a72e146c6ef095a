"""Order and stock files in: TOML, CSV and XLSX, every fault of a file told at once."""

from ._load import load_order

__all__ = ["load_order"]
