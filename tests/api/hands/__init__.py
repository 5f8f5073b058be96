"""Tests of the hands that do heavy work."""
