"""Open-standard exports. Exact positions stay at home unless asked for."""
