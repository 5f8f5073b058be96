"""Duskwright turns a wish-list into a year of nights."""
