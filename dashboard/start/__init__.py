"""Making a new workspace, step by step, without screens: the page and `resurgence new` both use it."""
