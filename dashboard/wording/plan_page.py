"""Labels of the page about planned visits."""

from __future__ import annotations

PURPOSE = "What the visits are to tell"
PURPOSES = {
    "absence": "That animals are absent",
    "return": "That they are back, soon",
    "trend": "That they became fewer",
}
DETECTION_FROM = "How often a visit finds animals that are there"
DETECTIONS = {"own": "From the visits so far", "given": "As I say"}
FINDS = "Finds them in so many of 100 visits, from and to"
SURE = "As sure as, in 100"
PRIOR = "Chance that animals are there, before looking"
PRIORS = {"none": "Not said", "20": "20 in 100", "50": "50 in 100", "80": "80 in 100"}
ALLOWED, NOT_SAID = "Visits allowed", "not said"
WITHIN, DECLINE = "Known within days", "Fewer by, %"
CYCLES, CYCLES_BEFORE = "Flow cycles after it", "Flow cycles before it"
FEWER_VISITS, TAKEN_FOR_GRANTED = "What fewer visits would still tell", "What this takes for granted"
NOTHING_FEWER = "Of fewer visits nothing can be told either."
