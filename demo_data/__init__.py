"""An invented group of springs with an invented animal, made by a seeded script whose truth is written down."""
