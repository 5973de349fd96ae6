"""Plain words of nine languages (en, de, fr, es, it, nl, pt, pl, sv) that headers and cells are made of.

They are dictionary words, each on its own; no list here describes the export of any one program. A stem of five letters
or more is found inside longer words too (Sensorglukose), a shorter one only as a word of its own.
"""

import re
import unicodedata
from functools import cache, lru_cache

from pooling.vocabulary import Prompt

# Letters that do not come apart into a base letter and an accent.
_LETTERS = str.maketrans({"ł": "l", "ø": "o", "đ": "d", "æ": "ae", "œ": "oe", "µ": "u"})
_SHORT = 4
_WORD = re.compile(r"[^\W\d_]+")
_MG_DL = re.compile(r"mg[\s/_%·.]*(?:dl|100\s*ml)|mg\s*%")
_MMOL_L = re.compile(r"mmol")


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """Small letters without accents.

    Examples
    --------
    >>> plain("Glicémia MÉDIA"), plain("Założenie")
    ('glicemia media', 'zalozenie')
    """
    apart = unicodedata.normalize("NFKD", text.casefold().translate(_LETTERS))
    return "".join(letter for letter in apart if not unicodedata.combining(letter)).translate(_LETTERS)


def words_in(text: str) -> list[str]:
    return _WORD.findall(plain(text))


def says(text: str, stems: frozenset[str]) -> bool:
    """Whether any of the stems stands in the text.

    Examples
    --------
    >>> says("Sensorglukose (mg/dL)", SENSOR), says("Lotto", BELOW)
    (True, False)
    """
    return _pattern(stems).search(plain(text)) is not None


@cache
def _pattern(stems: frozenset[str]) -> re.Pattern[str]:
    short = "|".join(sorted(stem for stem in stems if len(stem) <= _SHORT))
    long = "|".join(sorted(stem for stem in stems if len(stem) > _SHORT))
    alone = rf"(?<![^\W\d_])(?:{short})(?![^\W\d_])"
    return re.compile("|".join(part for part, some in ((alone, short), (long, long)) if some))


def unit_in(text: str) -> str | None:
    """The glucose unit that a text names, None if none or both.

    Examples
    --------
    >>> unit_in("Glukose [mmol/l]"), unit_in("glucose_mg_dl"), unit_in("mg/dL or mmol/L")
    ('mmol/L', 'mg/dL', None)
    """
    lowered = plain(text)
    mg_dl, mmol_l = bool(_MG_DL.search(lowered)), bool(_MMOL_L.search(lowered))
    return None if mg_dl == mmol_l else "mg/dL" if mg_dl else "mmol/L"


def _stems(*languages: str) -> frozenset[str]:
    """One string a language, in the order of the module's first line."""
    return frozenset(plain(stem) for words in languages for stem in words.split())


MOMENT = _stems(
    "date time timestamp when moment taken measured",
    "datum zeit uhrzeit zeitpunkt zeitstempel gemessen",
    "date heure horodatage moment",
    "fecha hora momento",
    "data ora orario momento",
    "datum tijd tijdstip moment",
    "data hora horário momento",
    "data czas godzina chwila",
    "datum tid klockslag tidpunkt",
)
ELAPSED = _stems(
    "elapsed since",
    "seit verstrichen vergangen tragedauer",
    "écoulé écoulée écoulées depuis",
    "transcurrido transcurridos desde",
    "trascorso trascorsi trascorse",
    "verstreken sinds",
    "decorrido decorridos",
    "upłynęło upływ od",
    "förfluten förflutna sedan",
)
GLUCOSE = _stems(
    "glucose sugar blood",
    "glukose glucose zucker blutzucker gewebezucker",
    "glucose glycémie sucre",
    "glucosa glucemia azúcar",
    "glucosio glicemia zucchero",
    "glucose bloedsuiker suiker",
    "glicose glicemia açúcar",
    "glukoza glukozy glikemia cukier",
    "glukos blodsocker socker",
)
VALUE = _stems(
    "reading value result level",
    "messwert wert",
    "valeur résultat taux",
    "valor resultado nivel",
    "valore risultato",
    "waarde uitslag",
    "valor resultado",
    "wartość wynik poziom stężenie",
    "värde resultat",
)
SENSOR = _stems(
    "sensor interstitial continuous trace",
    "sensor gewebe kontinuierlich",
    "capteur interstitiel interstitielle continu",
    "sensor intersticial continua continuo",
    "sensore interstiziale continuo",
    "sensor interstitieel continu",
    "sensor intersticial contínua contínuo",
    "sensor czujnik śródtkankowa ciągły",
    "sensor interstitiell kontinuerlig",
)
REFERENCE = _stems(
    "fingerstick finger fingertip strip capillary meter reference prick",
    "fingerstich finger fingerbeere teststreifen kapillar messgerät referenz",
    "doigt piqûre bandelette capillaire lecteur référence",
    "dedo punción tira capilar medidor referencia",
    "dito polpastrello striscia capillare misuratore riferimento",
    "vinger vingerprik teststrip capillair meter referentie",
    "dedo picada tira capilar medidor referência",
    "palec palca nakłucie pasek kapilarna glukometr odniesienia",
    "finger fingerstick stick teststicka kapillär mätare referens",
)
REPLICATE = _stems(
    "replicate repeat second duplicate again",
    "zweite zweiter zweitwert wiederholung doppelt",
    "deuxième seconde répétition doublon",
    "segunda segundo repetición duplicado",
    "seconda secondo ripetizione doppia",
    "tweede herhaling dubbel",
    "segunda segundo repetição duplicado",
    "druga drugi powtórzenie",
    "andra upprepning dubbel",
)
PROMPT = _stems(
    "prompt reason why",
    "anlass grund warum",
    "motif raison pourquoi",
    "motivo razón",
    "motivo ragione perché",
    "reden aanleiding waarom",
    "motivo razão",
    "powód przyczyna",
    "anledning orsak varför",
)
INSERTED = _stems(
    "inserted insertion applied placed put start started",
    "gesetzt eingesetzt setzen setzzeit angelegt beginn",
    "pose posé insertion début",
    "inserción insertado colocación colocado inicio",
    "inserimento inserito applicazione inizio",
    "geplaatst ingebracht inbrengen begin",
    "inserção inserido colocação colocado início",
    "założenie założono początek",
    "insatt isatt insättning start",
)
ENDED = _stems(
    "ended removed removal end",
    "entfernt ende abgenommen",
    "retrait retiré fin",
    "retirada retirado fin",
    "rimozione rimosso fine",
    "verwijderd einde",
    "remoção removido fim",
    "zdjęcie zdjęto koniec",
    "borttagen borttagning slut",
)
SITE = _stems(
    "site body place spot",
    "stelle körperstelle ort",
    "site endroit emplacement",
    "sitio lugar zona",
    "sito punto sede",
    "plek plaats",
    "local lugar",
    "miejsce",
    "ställe plats",
)
WEAR = _stems(
    "wear",
    "tragezeit tragephase",
    "port",
    "uso",
    "indosso uso",
    "draagperiode draagtijd",
    "uso",
    "noszenie",
    "bärperiod bärtid",
)
TOTAL = _stems(
    "total sum average mean minimum maximum median count",
    "summe gesamt mittelwert durchschnitt minimum maximum anzahl",
    "total somme moyenne minimum maximum nombre",
    "total suma promedio media mínimo máximo",
    "totale somma media minimo massimo",
    "totaal som gemiddelde minimum maximum aantal",
    "total soma média mínimo máximo",
    "razem suma średnia minimum maksimum liczba",
    "summa totalt medel medelvärde antal",
)
BELOW = _stems(
    "lo low below under",
    "niedrig tief unter unterhalb",
    "bas basse",
    "bajo baja",
    "basso bassa",
    "laag",
    "baixo baixa",
    "niski niska niskie poniżej",
    "låg lågt under",
)
ABOVE = _stems(
    "hi high above over",
    "hoch über oberhalb",
    "haut haute élevé élevée",
    "alto alta",
    "alto alta",
    "hoog",
    "alto alta",
    "wysoki wysoka wysokie powyżej",
    "hög högt över",
)
# Cells that hold no reading, as `plain` writes them.
_DASHES = ("", "-", "--", "---", "–", "—", ".", "..", "...", "…", "?", "x")
_NONE = (
    "n/a na n.a. nan null none nil k.a. s/d n/d nd b/d keine kein aucun aucune ninguno ninguna nessuno nessuna geen "
    "nenhum nenhuma brak ingen inget saknas"
)
NO_READING = frozenset((*_DASHES, *_NONE.split(), "no data", "no reading"))

PROMPTED: dict[Prompt, frozenset[str]] = {
    "scheduled": _stems(
        "scheduled planned routine",
        "geplant planmäßig routine",
        "prévu planifié routine",
        "programado planificado previsto",
        "programmato previsto",
        "gepland",
        "programado planejado planeado",
        "zaplanowany planowy planowo",
        "planerad planerat",
    ),
    "doubt": _stems(
        "doubt symptoms felt",
        "zweifel verdacht",
        "doute",
        "duda",
        "dubbio",
        "twijfel",
        "dúvida",
        "wątpliwość",
        "tvivel",
    ),
    "calibration": _stems(
        "calibration calibrate",
        "kalibrierung kalibrieren",
        "calibration étalonnage",
        "calibración",
        "calibrazione",
        "kalibratie",
        "calibração",
        "kalibracja",
        "kalibrering",
    ),
}

_MONTHS = (
    "january jan januar janner janvier janv enero ene gennaio gen januari janeiro stycznia styczen sty",
    "february feb februar fevrier fevr fev febrero febbraio februari fevereiro lutego luty lut",
    "march mar marz mrz mars marzo maart mrt marco marca marzec",
    "april apr avril avr abril abr aprile kwietnia kwiecien kwi",
    "may mai mayo maggio mag mei maio maja maj",
    "june jun juni juin junio giugno giu junho czerwca czerwiec cze",
    "july jul juli juillet juil julio luglio lug julho lipca lipiec lip",
    "august aug aout ago agosto augustus augusti sierpnia sierpien sie",
    "september sep sept septembre septiembre settembre set setembro wrzesnia wrzesien wrz",
    "october oct oktober okt octobre octubre ottobre ott outubro out pazdziernika pazdziernik paz",
    "november nov novembre noviembre novembro listopada listopad lis",
    "december dec dezember dez decembre diciembre dic dicembre dezembro grudnia grudzien gru",
)
MONTHS = {word: number for number, names in enumerate(_MONTHS, start=1) for word in names.split()}
