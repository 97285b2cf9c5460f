"""Water only: gauge files, combined discharge, outlet states and dry spells. Knows no animals and no screens."""
