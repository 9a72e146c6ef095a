"""The bench room."""
