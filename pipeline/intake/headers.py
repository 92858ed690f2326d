"""Names that clinics give their columns, in six languages: what a header most likely holds.

A name is evidence, never proof: `map` weighs it beside the values and asks where they disagree.
The lists are written from knowledge of the trade, no source.
"""

import re
import unicodedata
from functools import lru_cache

from pipeline.intake.names import HEADER_WORDS
from schemas import vocabulary
from schemas.meaning import each_of

# Contract column: phrases without accents, in lower case.
PHRASES: dict[str, str] = {
    "session_id": "session, session id, vorgang, vorgangsnummer, trocknung nr, zyklus nr, seance,"
    " sesion, sessione, sessie, run, run id, run no, cycle no, load, lauf, lauf nr",
    "device_id": "device, device id, aid, aid id, serial, serial number, serial no, sn, geraet,"
    " geraetenummer, seriennummer, serien nr, hoergeraet, hg nr, appareil, numero de serie,"
    " aparato, audifono, numero serie, apparecchio, matricola, toestel, serienummer",
    "patient_id": "patient, patient id, wearer, wearer id, client, client id, customer, kunde,"
    " kundennummer, kunden nr, kd nr, patientennummer, paciente, paziente, klant, klantnummer,"
    " patient no, file no, dossier",
    "treatment": "treatment, behandlung, traitement, tratamiento, trattamento, behandeling",
    "dryer_id": "dryer, dryer id, chamber, chamber id, unit, trockner, kammer, trockenkammer,"
    " chambre, secheur, camara, secador, camera, essiccatore, kamer, droger, machine",
    "started_at": "started at, start, started, begin, began, date, time, date time, timestamp,"
    " datum, uhrzeit, zeit, beginn, startzeit, zeitpunkt, datum uhrzeit, jour, heure, debut,"
    " date heure, fecha, hora, inicio, fecha hora, data, ora, inizio, tijd, begintijd, aanvang,"
    " visit date, visit time, start time, start date, day, tag",
    "ear": "ear, side, seite, ohr, cote, oreille, lado, oido, lato, orecchio, kant, oor",
    "device_style": "style, device style, type, build, form factor, bauform, bauart, typ, modele"
    " type, forme, tipo, estilo, stile, model type, geraetetyp, uitvoering",
    "power_source": "power source, battery type, cell type, batterietyp, stromversorgung, pile,"
    " alimentation, pila, alimentazione, voeding",
    "cell_in_chamber": "cell in chamber, battery in chamber, batterie in kammer, cell removed",
    "device_age_months": "device age, age, alter, geraetealter, age appareil, edad, eta, leeftijd",
    "fitted_on": "fitted on, fitting date, fitted, anpassdatum, angepasst am, date appareillage,"
    " fecha adaptacion, data applicazione, aanpasdatum",
    "model_code": "model, model code, modell, modele, modelo, modello",
    "receiver_code": "receiver, receiver code, hoerer, hoerertyp, ecouteur, auricular, ricevitore",
    "visit_reason": "visit reason, reason, besuchsgrund, grund, anlass, motif, motivo, reden",
    "symptoms": "symptoms, symptom, complaint, beschwerde, beschwerden, symptome, symptomes,"
    " plainte, sintomas, queja, sintomi, klacht",
    "exposure": "exposure, water contact, exposition, wasserkontakt, kontakt, exposicion,"
    " esposizione, blootstelling",
    "water_kind": "water kind, kind of water, wasserart, type eau, tipo agua, tipo acqua",
    "hours_since_exposure": "hours since exposure, hours wet, stunden seit kontakt, heures depuis,"
    " horas desde, ore da, uren sinds, delay hours, hours since",
    "delay_band": "delay band, delay",
    "done_before_visit": "done before visit, first aid, massnahme zuhause, vorher gemacht",
    "home_dryer": "home dryer, trockner zuhause, secheur domicile, secador casa",
    "condition_before": "condition before, before, state before, status before, on arrival,"
    " vorher, zustand vorher, zustand vor, befund vorher, befund vor, status vorher, status vor,"
    " zustand eingang, befund eingang, eingangsbefund, eingang, vor trocknung, avant,"
    " etat avant, antes, estado antes, prima, stato prima, voor, toestand voor, pre",
    "condition_after_cleaning": "condition after cleaning, after cleaning, nach reinigung,"
    " zustand nach reinigung, apres nettoyage, tras limpieza, dopo pulizia, na reiniging",
    "condition_after": "condition after, after, state after, status after, outcome, result,"
    " nachher, zustand nachher, zustand nach, befund nachher, befund nach, status nachher,"
    " status nach, zustand ausgang, befund ausgang, ausgangsbefund, nach trocknung, after drying,"
    " ergebnis, apres, etat apres,"
    " resultat, despues, estado despues, resultado, dopo, stato dopo, esito, na, toestand na,"
    " post",
    "parts_changed": "parts changed, parts, teile, getauschte teile, pieces, piezas, pezzi,"
    " onderdelen",
    "assessor_id": "assessor, staff, checked by, mitarbeiter, bearbeiter, pruefer, technicien,"
    " tecnico, medewerker, operator, initials, kuerzel",
    "cycle_programme": "programme, program, cycle programme, programm, trockenprogramm, programa,"
    " programma, cycle type, mode",
    "cycle_minutes": "cycle minutes, minutes, duration, cycle time, cycle length, run time, dauer,"
    " laufzeit, trockenzeit, trocknungsdauer, duree, duracion, durata, duur, drying time",
    "ended_by": "ended by, end, end reason, stop reason, beendet durch, ende, fin, arret, fine,"
    " einde, status end",
    "moisture_ul": "moisture, water, water reading, reading, moisture reading, wasser, feuchte,"
    " wassermenge, restfeuchte, feuchtigkeit, feuchte messung, humidite, eau, agua, humedad,"
    " acqua, umidita, vocht, liquid, h2o",
    "chamber_pressure_min_kpa_abs": "pressure, min pressure, pmin, p min, vacuum, lowest pressure,"
    " druck, unterdruck, vakuum, min druck, pression, vide, presion, vacio, pressione, vuoto, druk",
    "chamber_temp_max_c": "temp, temperature, max temp, tmax, t max, max temperature, temperatur,"
    " temperatur max, temperatura, temperatuur, heat",
    "test_box_id": "test box, test box id, messbox, caisson, caja",
    "measured_settings": "measured settings, settings, einstellungen",
    "hfa_ospl90_before_db_spl": "hfa ospl90 before, ospl90 before, ospl90 vorher",
    "hfa_ospl90_after_db_spl": "hfa ospl90 after, ospl90 after, ospl90 nachher",
    "hfa_gain_before_db": "hfa gain before, gain before, verstaerkung vorher, gain avant",
    "hfa_gain_after_db": "hfa gain after, gain after, verstaerkung nachher, gain apres",
    "ein_before_db_spl": "ein before, noise before, rauschen vorher",
    "ein_after_db_spl": "ein after, noise after, rauschen nachher",
    "thd_before_pct": "thd before, distortion before, klirr vorher, klirrfaktor vorher",
    "thd_after_pct": "thd after, distortion after, klirr nachher, klirrfaktor nachher",
    "disposition": "disposition, returned, verbleib, devenir, destino, destinazione, bestemming",
    "checked_at": "checked at, check date, date, datum, geprueft am, date controle, fecha, data",
    "dose_ul": "dose, dosis, dosage, dosismenge, volume, menge, given, zugabe",
    "reading_ul": "reading, anzeige, ablesung, messwert, lecture, lectura, lettura, aflezing",
    "measured_at": "measured at, measurement date, gemessen am, date mesure",
    "occurred_on": "occurred on, event date, date, datum, ereignisdatum",
    "event": "event, ereignis, evenement, evento, gebeurtenis",
    "month": "month, monat, mois, mes, mese, maand",
    "aids_seen": "aids seen, aids, geraete, geraete gesehen, appareils vus",
}
SIDE_WORDS = each_of(
    "SIDE_WORDS",
    vocabulary.EAR.but("unknown"),
    {
        "left": (
            "left",
            "links",
            "li",
            "l",
            "gauche",
            "g",
            "izquierda",
            "izq",
            "sinistra",
            "sx",
            "le",
        ),
        "right": (
            "right",
            "rechts",
            "re",
            "r",
            "droite",
            "d",
            "derecha",
            "der",
            "destra",
            "dx",
            "rechter",
        ),
    },
)
UNIT_TEXT = re.compile(r"[\[(]\s*([^\])]{1,16}?)\s*[\])]\s*$")
LOOSE_UNIT = re.compile(
    r"(?i)[\s_/-](°?[cfk]|[µμu]l|ml|mg|min|minuten|minutes|sec|sek|std|kpa|hpa|mbar|mmhg|inhg|psi"
    r"|(?:kpa|hpa|mbar|mmhg|inhg)[ _]?abs)\.?$"
)
NOISE = {"of", "the", "der", "die", "das", "de", "la", "le", "du", "des", "del", "di", "in", "am",
         "no", "nr", "max", "min", "hg", "and", "und", "et", "a"}  # fmt: skip
WHOLE, INSIDE = 1.0, 0.75


def plain(text: str) -> str:
    """Return a name in lower case, its accents written out or dropped, words apart by a space."""
    low = text.lower().replace("ß", "ss")
    for accented, out in (("ä", "ae"), ("ö", "oe"), ("ü", "ue")):
        low = low.replace(accented, out)
    bare = "".join(c for c in unicodedata.normalize("NFKD", low) if not unicodedata.combining(c))
    return re.sub(r"[\W_]+", " ", bare).strip()


def unit_of(header: str) -> tuple[str, str]:
    """Return a header without the unit written in it, and that unit, empty where there is none."""
    found = UNIT_TEXT.search(header) or LOOSE_UNIT.search(header)
    return (header[: found.start()].strip(), found.group(1)) if found else (header, "")


def side_of(header: str) -> tuple[str, str]:
    """Return a header's plain words without the word for a side, and that side."""
    words = plain(header).split()
    for side, spelled in SIDE_WORDS.items():
        for at in (0, -1):
            if len(words) > 1 and words[at] in spelled:
                rest = words[1:] if at == 0 else words[:-1]
                return " ".join(rest), side
    return " ".join(words), ""


@lru_cache(maxsize=1)
def _phrases() -> list[tuple[str, str, frozenset[str]]]:
    return [
        (column, phrase, frozenset(phrase.split()))
        for column, listed in PHRASES.items()
        for phrase in (*(p.strip() for p in listed.split(",")), column.replace("_", " "))
    ]


def likeness(name: str) -> dict[str, float]:
    """Return how well a plain name fits each contract column, 0 to 1, the best phrase counting.

    Args:
        name: a header as `plain` gives it, without unit and side.
    """
    words = set(name.split())
    found: dict[str, float] = {}
    for column, phrase, tokens in _phrases():
        if name.replace(" ", "") == phrase.replace(" ", ""):
            score = WHOLE
        elif tokens <= words:
            score = INSIDE + 0.2 * len(tokens) / (len(words - NOISE) or 1)
        elif len(phrase) > 4 and phrase.replace(" ", "") in name.replace(" ", ""):
            score = 0.6
        else:
            continue
        found[column] = max(found.get(column, 0.0), min(score, WHOLE))
    return found


@lru_cache(maxsize=1)
def _trade() -> frozenset[str]:
    listed = {word for _, _, tokens in _phrases() for word in tokens if len(word) > 2}
    return frozenset(listed | HEADER_WORDS | {"ordnung", "hoerer", "gehoergang", "wie", "nicht",
                     "kein", "keine", "ohne", "mit", "leicht", "stark", "teil", "voll", "nur",
                     "ok", "io", "neu", "alt", "ton", "still", "dead", "weak"})  # fmt: skip


def known_words(text: str) -> bool:
    """Tell whether a word of the trade, in one of the languages, is in a text."""
    return any(word in _trade() for word in plain(text).split())
