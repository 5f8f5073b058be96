"""The sky: the only package that imports skyfield."""
