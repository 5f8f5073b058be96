"""Tests mirror the packages."""
