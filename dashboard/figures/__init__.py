"""Frames in, Plotly figures out. Pure functions: no screen, no files, no estimates."""
