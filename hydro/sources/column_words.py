"""Words that column names are made of, in the languages where they are obvious. Tables only: review these, not code."""

from __future__ import annotations

import re
import unicodedata


def words_of(text: str) -> list[str]:
    """The words of a table that is easier to review as running text than as a list of quoted items."""
    return text.split()


DATE_WORDS = frozenset(
    words_of(
        "date datum fecha data day tag jour dia datetime timestamp zeitpunkt zeitstempel stamp dateheure fechahora "
        "dato datetimeutc dateutc timestamputc date_obs dv_dt datetimelocal"
    )
)
TIME_WORDS = frozenset(words_of("time zeit uhrzeit heure hora hour clock ora tid timeutc localtime"))
YEAR_WORDS = frozenset(words_of("year yr yyyy jahr annee ano an anno"))
MONTH_WORDS = frozenset(words_of("month mo mm monat mois mes mese"))
DAY_WORDS = frozenset(words_of("day dd tag jour dia giorno"))
DAY_OF_YEAR_WORDS = frozenset(words_of("doy julian yday jday dayofyear julianday dayofthe yearday"))
STATION_WORDS = frozenset(
    words_of(
        "station site siteno stationno stationid siteid gauge gage stationnumber sitenumber sitecode messstelle "
        "estacion estacao location locationid monitoringlocationid codestation id"
    )
)
DISCHARGE_WORDS = frozenset(
    words_of(
        "flow flows discharge streamflow q qm qmean abfluss durchfluss debit caudal gasto portata avrinning "
        "vannforing afvoer vazao przeplyw virtaama descarga springflow riverflow dmf afluencia"
    )
)
#: What else is measured beside discharge. A name with one of these is never taken as discharge by its name.
OTHER_QUANTITIES: dict[str, str] = {
    **dict.fromkeys(words_of(
        "stage level waterlevel gageheight gaugeheight height wasserstand pegel hauteur nivel depth tiefe "
        "niveau head elevation wse"),
        "a water level",
    ),
    **dict.fromkeys(
        words_of("temp temperature temperatur wassertemperatur temperatura watertemp"), "a temperature"
    ),
    **dict.fromkeys(words_of("pres press pressure druck baro barometric pression presion abspres"), "a pressure"),
    **dict.fromkeys(words_of("rain rainfall precip precipitation niederschlag regen pluie lluvia snow"), "rain or snow"
    ),
    **dict.fromkeys(words_of("velocity speed geschwindigkeit vitesse velocidad"), "a velocity"),
    **dict.fromkeys(
        words_of("conductivity conductance leitfahigkeit conductivite conductividad sc ec"), "a conductivity"
    ),
    **dict.fromkeys(words_of("turbidity trubung turbidite sediment nitrate oxygen do ph"), "water quality"),
    **dict.fromkeys(words_of("batt battery volt volts voltage batterie"), "a battery voltage"),
    **dict.fromkeys(words_of("volume volumen cumulative total accumulated"), "a volume or a running total"),
}  # fmt: skip
FLAG_WORDS = frozenset(
    words_of(
        "flag flags quality qualifier qualifiers qual status approval approved grade code codes cd symbol sym remark "
        "remarks rmk qa qc qaqc qcode qflag prufstatus pruefstatus qualitat qualitaet qualite calidad estado merkmal "
        "approvalstatus qualitycode statut zustand"
    )
)
#: Names under which open Canadian exports keep one-letter symbols (A partial day, B ice, D dry, E estimated).
SYMBOL_NAMES = frozenset(("sym", "symbol", "symbolsymbole"))
UNIT_WORDS = frozenset(words_of("unit units einheit unite unidad unitofmeasure unitsymbol tsunitsymbol uom eenheid"))
STATISTICS: dict[str, str] = {
    **dict.fromkeys(words_of("mean avg average mittelwert mittel moyenne media promedio moy"), "mean"),
    **dict.fromkeys(words_of("max maximum maxi peak hochst maximo"), "maximum"),
    **dict.fromkeys(words_of("min minimum mini minimo"), "minimum"),
    **dict.fromkeys(words_of("median mediane mediana"), "median"),
    **dict.fromkeys(words_of("sum summe somme suma"), "sum"),
    **dict.fromkeys(words_of("std stdev sd"), "standard deviation"),
}
#: First words of rows below the data.
FOOTER_WORDS = frozenset(
    words_of(
        "mean average avg max maximum min minimum total sum median count n mittel mittelwert summe moyenne somme media "
        "promedio suma std stdev end eof source note notes notiz"
    )
)
#: Words in a row of units that stand for a date or clock layout or for nothing.
LAYOUT_WORDS = frozenset(
    words_of("yyyymmdd ddmmyyyy mmddyyyy hhmm hhmmss yyyymmddhhmm yyyymmddhhmmss ts rn iso8601 utc local gmt")
)
#: Words of a row that says how a logger drew its values together.
PROCESSING_WORDS = frozenset(words_of("smp avg min max tot std med"))


def fold(text: str) -> str:
    """Lower case, without accents."""
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in decomposed if not unicodedata.combining(c))


def tokens(name: str) -> list[str]:
    """The words of a column name: “MeanDailyFlow_cfs” -> mean, daily, flow, cfs."""
    spaced = re.sub(r"(?<=[a-zäöüéè])(?=[A-Z][a-z])", " ", name)
    return [t for t in re.split(r"[^a-z0-9]+", fold(spaced)) if t]


def squeezed(name: str) -> str:
    """A name without anything but letters and digits."""
    return re.sub(r"[^a-z0-9]", "", fold(name))
