"""Sizes for fingers: on a touch screen everything to be tapped is at least 44 px high, and so are a form's fields."""

from __future__ import annotations

#: Least height of what is tapped (44 px at the usual text size), as the form at the spring and other pages use it.
LEAST = "2.75rem"
_FIELDS = """:is([data-testid="stNumberInputContainer"], [data-testid="stNumberInputContainer"] > div,
[data-testid="stNumberInput"] :is(input, button), [data-testid="stTextInputRootElement"],
[data-testid="stTextInput"] input, [data-testid="stDateInputField"], [data-testid="stSelectbox"] [role="group"])"""
_TAPPED = """:is([data-testid="stButtonGroup"] button, [data-testid="stButton"] button,
[data-testid="stDownloadButton"] button, [data-testid="stPageLink-NavLink"], summary,
[data-testid="stCheckbox"] label)"""
#: Fields whose own height is fixed would cut off what is higher inside them.
LARGE_FIELDS = f"""[data-testid="stMain"] {_FIELDS} {{ height: auto; min-height: {LEAST}; }}
[data-testid="stMain"] [data-testid="stNumberInput"] button {{ min-width: {LEAST}; }}
[data-testid="stMain"] [data-testid="stDateInputField"] button {{ min-height: {LEAST}; }}"""
LARGE_TARGETS = f"""[data-testid="stMain"] {_TAPPED} {{ min-height: {LEAST}; align-items: center; }}
[data-testid="stMain"] [data-testid="stButtonGroup"] button {{ min-width: {LEAST}; }}"""
#: The buttons of a table show at once on a touch screen and would lie on what stands above it.
STYLE = f"""<style>@media (pointer: coarse) {{ {LARGE_FIELDS} {LARGE_TARGETS}
[data-testid="stSidebarNavLink"] {{ min-height: {LEAST}; }}
[data-testid="stMain"] [data-testid="stElementContainer"]:has([data-testid="stDataFrame"]) {{ margin-top: 1.9rem; }}
}}</style>"""
