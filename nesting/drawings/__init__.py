"""The drawings room."""
