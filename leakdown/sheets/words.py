"""The words that head columns and preamble lines, in the languages that sheets come in.

Common usage in workshops; no printed source. Words are compared without accents and in lower case.
"""

from __future__ import annotations

import re
import unicodedata


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


TIME = _set(
    "time times t elapsed when after zeit messzeit laufzeit dauer duration temps duree ecoule tiempo "
    "tempo tid "
    "tijd aika czas cas ido vreme zaman seconds sec secs second minutes minute mins min s ms hours hr hrs "
    "stopwatch timer millis micros tiden minuten sekunden secondes minutos segundos secondi minuti "
    "heures hold"
)
CLOCK = _set(
    "clock klo uhrzeit uhr heure hora ora hour kl klocka klockan klokslag timestamp datetime stamp "
    "zeitstempel horodatage godzina kellonaika hodina epoch unixtime unix"
)
DATE = _set("date datum fecha data dato pvm jour tag dag day")
ELAPSED = _set("elapsed stopwatch timer dauer duration laufzeit ecoule transcurrido after")
PRESSURE = _set(
    "pressure pressures press pres prs p pg druck uberdruck ueberdruck messdruck pression presion "
    "pressione pressao "
    "druk tryck trykk tryk overtryk paine cisnienie tlak nyomas basinc manometer manometre manometro boost "
    "pgauge p1 p2 p3 pabs"
)
VACUUM = _set(
    "vacuum vac vakuum vacio vide depression unterdruck underpressure vuoto vacuo undertryk "
    "undertrykk undertryck onderdruk alipaine podcisnienie podtlak suction vaccum vacum "
    "depresion depressione"
)
WEAK_PRESSURE = _set(
    "reading readings gauge gage value values wert messwert anzeige lecture lectura lettura "
    "needle dial sensor channel ch1 ch2 signal measured measurement jauge indicator"
)
REMARK = _set(
    "remark remarks note notes comment comments bemerkung bemerkungen anmerkung notiz remarque "
    "remarques observation observations observacion observaciones nota notas mark marks event "
    "events action actions what did opmerking opmerkingen anm kommentar huom uwagi "
    "commentaire commentaires hinweis done"
)
TEMPERATURE = _set("temp temperature temperatur temperatura temperatuur lampotila degc degf temps_c")
BAROMETER = _set(
    "barometer baro barometric barometrisch barometre barometro atmospheric atmosphere "
    "atmospherique atmosferica luftdruck qfe"
)
AMBIENT = _set("ambient station umgebung room raum ambiant ambiante ambiente")
DERIVED = _set(
    "drop loss rate lost change delta diff difference setpoint target limit expected voltage volt "
    "volts v flow volume humidity rh battery uncertainty resolution error abfall verlust perte "
    "perdida soll average mean avg stdev sigma corrected allowed predicted"
)
LOSS = _set(
    "drop dropped loss losses lost fallen change delta diff difference abfall abnahme verlust perte chute "
    "baisse perdida caida perdita caduta calo decrease decay"
)
LOSS_COMPOUND = re.compile(
    r"(?:druck|tryck|trykk?|druk|vakuum)(?:abfall|verlust|differenz|abnahme|fall|fald|tap|val|verlies)"
)
ABSOLUTE = _set("abs absolute absolut absolutdruck absolue absolu absoluta absoluto absoluut pabs")
GAUGE = _set("gauge gage relative relativ relativdruck uberdruck ueberdruck rel")
ROW_NUMBER = re.compile(
    r"(?:lfd |reading |sample |point |test |mess |data |row )?(?:no|nr|num|number|nummer|numero|#|id|count)"
    r"|n|row|line|idx|index|sample|point|pt|step|seq|sequence|record|scan|lfd|messung|pos|zeile|ligne|fila|punkt"
)


def plain(text: str) -> str:
    """Lower case without accents; "Überdruck" -> "uberdruck"."""
    folded = unicodedata.normalize("NFKD", text.lower().replace("ß", "ss"))
    return "".join(c for c in folded if not unicodedata.combining(c))


def words_of(text: str) -> list[str]:
    """Words of a heading, without signs and accents."""
    return re.findall(r"[a-z0-9#]+", plain(text).replace("n°", "no").replace("nº", "no").replace("№", "no"))
