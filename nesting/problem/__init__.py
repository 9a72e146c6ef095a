"""The problem room: one board's instance on its integer grid, and the way back."""
