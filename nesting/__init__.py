"""Kerfwright: plan how full sheets become the mats and backers of an order."""

__version__ = "0.1.0"
