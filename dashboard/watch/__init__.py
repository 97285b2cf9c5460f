"""Watching a workspace: what is known (facts), to be told (judging), was told (memory), and telling it (sending)."""
