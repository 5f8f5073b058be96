"""The solver: the only package that imports ortools."""
