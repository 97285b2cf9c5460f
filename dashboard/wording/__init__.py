"""Every label and sentence that a person reads. No number is computed here."""
