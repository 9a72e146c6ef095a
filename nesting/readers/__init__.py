"""Order and stock files in: TOML, CSV and XLSX."""
