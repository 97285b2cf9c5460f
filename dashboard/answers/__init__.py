"""One question a file, named as its command: a workspace in, a result object with tables and `as_json()` out."""
