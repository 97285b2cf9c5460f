"""What each command does. Nothing heavy is imported at the top of any file here."""
