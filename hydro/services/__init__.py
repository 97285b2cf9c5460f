"""Gauge services: what is asked of them, what was kept of their answers. Nothing else in the project uses a network."""
