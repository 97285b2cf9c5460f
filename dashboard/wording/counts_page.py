"""Labels of the page about counts and flow."""

from __future__ import annotations

RESPONSE = "What is explained"
RESPONSES = {
    "count": "Animals counted",
    "adults": "Adults counted",
    "young": "Juveniles counted",
    "eggs": "Animals with eggs counted",
    "gravid": "Share with eggs",
    "juveniles": "Share juvenile",
    "presence": "Any found or none",
    "temperature": "Water outside its usual temperature",
}
MODEL_CHOICES = "Other responses, terms and covariates"
SEASON = "Shape of the year"
SEASONS = {"harmonic": "One wave", "spline": "Free curve (cyclic spline)"}
ALSO = "Also in the model"
EXTRAS = {
    "dry_length": "Recovery by length of the dry spell",
    "year_trend": "Trend by year",
    "flow_by_outlet": "An effect of flow for each outlet",
    "taxon": "A level for each taxon",
    "stage": "Adults and juveniles as two levels",
}
COVARIATES, NO_COVARIATES = "Columns of the visits as covariates", "No further column of the visits holds numbers."
FLAG_TEMPERATURE = "Flag visits whose water was not at its usual temperature"
USUAL_TEMPERATURE, TEMPERATURE_LIMIT = "Usual, °F", "Not usual from ± °F"
LARGE_PRINT = "Large print for a meeting room"
PICTURE_OF = "Picture of a check"
MOST_INFLUENTIAL = "Visits that move the effect of flow most"
COVARIATE_PICTURES, OUTSIDE_BAND = "Covariates over time and against flow", "Visits outside the usual temperature"
