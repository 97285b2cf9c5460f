"""Cautions, where the act is. Local rules, the permit and the site protocol always come first."""

PROVISIONAL = "Gauge data may be provisional and can still be revised by the agency that publishes them."
NOT_A_WARNING = (
    "This is an estimate from gauge readings, not an official warning and not a promise: look before you step in, and "
    "follow the rules of the place and of your permit."
)
WADING = (
    "Before wading: do not go alone, leave word of where you are and when you will be back, wear a flotation vest, and "
    "turn back when water is rising or cloudy. Depth times speed is no all-clear."
)
HANDLING = (
    "Before handling: have the permit with you, clean and disinfect gear between sites by the protocol that applies "
    "there, keep animals wet and the holding time short. People licensed for it decide how."
)
DISTURBANCE = "Turning cover disturbs the animals, most of all while water is coming back: fewer visits can be better."
PERMIT_VISITS = (
    "A plan is not a permission: where the permit or the people who look after the site allow fewer visits, or none while "
    "water is coming back, that comes first."
)

#: The same in two lines of a phone, where the act is; the full text opens below them.
IN_FULL = "In full"
SHORT_TRIP = "An estimate, no official warning: look first, do not wade alone, keep to local rules."
SHORT_ESTIMATE = "An estimate, no official warning: look before you step in; readings may be revised."
SHORT_ALERTS = "No alert is not an all-clear: an estimate, no official warning. Look before you step in."
SHORT_VISIT = "Do not wade alone, leave word, turn back when water rises or clouds; turn little cover."
SHORT_HANDLING = "Permit with you, gear clean, animals wet, held briefly: licensed people decide how."
SHORT_SEARCH = "Fewer visits can be better; animals are handled under a permit, by licensed people."
SHORT_PLAN = "A plan is no permission: the permit and those who look after the site come first."
