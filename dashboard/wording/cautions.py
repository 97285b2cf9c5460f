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
