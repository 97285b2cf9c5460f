"""Readers of gauge files: one format or one concept a file; `recognise.read_gauge_file` chooses between them."""
