"""What must be on record after a storm: all of what was answered, and nothing by halves."""

from __future__ import annotations

import hashlib
import uuid
from collections import Counter
from typing import Any

from tests.faults.clients import ROWS_OF_A_REGISTER, Storm
from tests.faults.sites import Site

INSPECTED = """
    SELECT i.submission_id, i.id,
        (SELECT count(*) FROM inspections_padcount p WHERE p.inspection_id = i.id),
        (SELECT count(*) FROM inspections_finding f WHERE f.inspection_id = i.id)
    FROM inspections_inspection i WHERE i.submission_id IS NOT NULL
"""
REPLACED = """
    SELECT r.submission_id, r.id,
        (SELECT count(*) FROM inspections_replacedpad p WHERE p.replacement_id = r.id),
        (SELECT sum(-m.change) FROM fleet_stockmove m
            WHERE m.note LIKE 'pad replacement ' || r.id || ' on %'),
        (SELECT count(*) FROM ratings_ledgerentry e
            WHERE e.cause = 'pad replacement' AND e.cause_record = r.id)
    FROM inspections_padreplacement r
"""
APPROVED = """
    SELECT a.submission_id, a.rating_id,
        (SELECT count(DISTINCT e.housing_id) FROM ratings_ledgerentry e
            WHERE e.cause = 'lot rated' AND e.cause_record = a.rating_id),
        (SELECT count(DISTINCT p.housing_id) FROM fleet_padposition p WHERE p.lot_id = r.lot_id)
    FROM ratings_ratingapproval a JOIN ratings_lotrating r ON r.id = a.rating_id
"""
# What no lot's shelves, moves and own count agree on.
OUT_OF_STOCK = """
    SELECT l.mark, l.in_stock, coalesce(sum(m.change), 0),
        (SELECT coalesce(sum(s.pads), 0) FROM fleet_shelfcount s WHERE s.lot_id = l.id)
    FROM fleet_padlot l LEFT JOIN fleet_stockmove m ON m.lot_id = l.id
    GROUP BY l.id, l.mark, l.in_stock
"""
PHOTOS = "SELECT photo_id, file, sha256 FROM inspections_photofile"
YARDS = "SELECT name FROM fleet_yard WHERE name LIKE 'Storm %'"


def faults_after(site: Site, storm: Storm) -> list[str]:
    """Say what on record is not as it must be after a storm; nothing where all is."""
    found = [f"the database is damaged: {said}"] if (said := site.damage()) else []
    found += _inspections(site, storm) + _replacements(site, storm) + _re_ratings(site, storm)
    found += _registers(site, storm) + _photos(site, storm)
    found += [
        f"lot {mark} has {counted} pads, its moves come to {moved} and its shelves to {shelved}"
        for mark, counted, moved, shelved in site.asked(OUT_OF_STOCK)
        if len({counted, moved, shelved}) > 1
    ]
    found += [f"answered with {each}" for each in storm.refused]
    failures = site.failures()
    found += [f"the site failed: {each}" for each in failures]
    if (unexplained := storm.statuses[500] - len(failures)) > 0:
        found.append(f"the site failed {unexplained} times, of which its log says nothing")
    verified = site.run("manage.py", "ledger", "verify", check=False)
    if verified.returncode:
        found.append(f"ledger verify: {verified.stdout}{verified.stderr}")
    return found


def _by_key(site: Site, query: str) -> dict[str, tuple[Any, ...]]:
    return {str(uuid.UUID(str(key))): tuple(rest) for key, *rest in site.asked(query)}


def _inspections(site: Site, storm: Storm) -> list[str]:
    there, kind = _by_key(site, INSPECTED), "inspections"
    found = [
        f"inspection {key} is half on record: {there[key][1]} pads and {there[key][2]} findings"
        for key in storm.sent[kind].keys() & there.keys()
        if there[key][1:] != (8, 1)
    ]
    return found + [
        f"{key} was answered as inspection {pk}, and is not on record"
        for key, pk in storm.recorded[kind].items()
        if there.get(key, (None,))[0] != pk
    ]


def _replacements(site: Site, storm: Storm) -> list[str]:
    there, kind = _by_key(site, REPLACED), "replacements"
    found = [
        f"replacement {key} is half on record: {there[key][1:]}"
        for key in storm.sent[kind].keys() & there.keys()
        # The same pads again rate nothing otherwise.
        if there[key][1:3] != (2, 2) or there[key][3] > 1
    ]
    return found + _missing(kind, storm, there)


def _re_ratings(site: Site, storm: Storm) -> list[str]:
    there, kind = _by_key(site, APPROVED), "re-ratings"
    found = [
        f"rating {there[key][0]} re-rated {there[key][1]} of {there[key][2]} housings"
        for key in storm.sent[kind].keys() & there.keys()
        if there[key][1] != there[key][2]
    ]
    return found + _missing(kind, storm, there)


def _registers(site: Site, storm: Storm) -> list[str]:
    there = Counter(str(name).split()[1] for (name,) in site.asked(YARDS))
    found = [
        f"{rows} rows of register {key} are on record"
        for key, rows in there.items()
        if rows != ROWS_OF_A_REGISTER
    ]
    return found + _missing("registers", storm, there)


def _photos(site: Site, storm: Storm) -> list[str]:
    found, there = [], set()
    for key, name, known in site.asked(PHOTOS):
        there.add(str(uuid.UUID(str(key))))
        path = site.var / "media" / name
        if str(uuid.UUID(str(key))) not in storm.sent["photos"]:
            continue
        if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != known:
            found.append(f"photo {key} is on record, and its file is not whole")
    return found + _missing("photos", storm, there)


def _missing(kind: str, storm: Storm, there: Any) -> list[str]:
    return [
        f"{key} of the {kind} was answered as recorded, and is not on record"
        for key in storm.recorded[kind]
        if key not in there
    ]
