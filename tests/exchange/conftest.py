"""A folder of a few hand-written rows, and ways to write and spoil it."""

import csv
import uuid
from datetime import UTC, datetime, timedelta

import pytest

from fleet.accounts.policy import SERVICE
from fleet.exchange.actions import import_folder

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)


def key(name):
    return str(uuid.uuid5(uuid.NAMESPACE_OID, name))


ROWS = {
    "organisations": [
        {"code": "tarn", "name": "Tarn Tire Service", "is_vendor": "yes", "is_organiser": "no"},
        {"code": "longfield", "name": "Longfield Track Days", "is_vendor": "no", "is_organiser": "yes"},
    ],
    "people": [
        {"email": "robin@example.org", "name": "Robin Vale", "roles": ""},
        {"email": "fen@example.org", "name": "Fen Aldous", "roles": "tarn:fitter;longfield:crew"},
    ],
    "lines": [{"maker": "Mirrin", "name": "Lowmoor TD", "category": "track_day", "carcass": "soft"}],
    "specs": [
        {
            "maker": "Mirrin",
            "line": "Lowmoor TD",
            "code": f"lowmoor-{axle[0]}",
            "axle": axle,
            "size": size,
            "new_depth_mm": depth,
            "wear_limit_mm": "0.8",
        }
        for axle, size, depth in (
            ("front", "120/70 ZR17 M/C (58W)", "4.5"),
            ("rear", "190/55 ZR17 M/C (75W)", "5.5"),
        )
    ],
    "riders": [
        {"code": "r-1", "name": "Robin Vale", "registered_with": "tarn", "email": "robin@example.org"},
        {"code": "r-2", "name": "Ottie Crane", "registered_with": "", "email": ""},
    ],
    "bikes": [
        {"rider": "r-1", "code": "b-1", "description": "1000 sport"},
        {"rider": "r-2", "code": "b-2", "description": "600 sport"},
    ],
    "wheel_pairs": [
        {"bike": "b-1", "code": "w-1", "name": "dry"},
        {"bike": "b-2", "code": "w-2", "name": "dry"},
    ],
    "tracks": [
        {
            "code": "marram-point",
            "name": "Marram Point Circuit",
            "latitude_deg": "52.9",
            "longitude_deg": "0.4",
            "altitude_m": "18",
            "time_zone": "Europe/London",
        }
    ],
    "layouts": [{"track": "marram-point", "code": "marram-full", "name": "Full", "length_km": "4.12"}],
    "events": [{"organiser": "longfield", "code": "june-friday", "name": "Longfield June Friday"}],
    "days": [{"event": "june-friday", "date": "2026-06-12", "layout": "marram-full"}],
    "groups": [{"event": "june-friday", "name": "Fast", "usual_lap_s": "112"}],
    "entries": [
        {"event": "june-friday", "date": "2026-06-12", "bike": "b-1", "group": "Fast", "number": "27"},
    ],
    "lots": [
        {
            "vendor": "tarn",
            "code": f"lot-{end}",
            "spec": f"lowmoor-{end}",
            "date_code": "0826",
            "unit_cost": "148.50",
            "quantity": "4",
            "received_at": "2026-05-01T09:00:00Z",
            "place": "trailer",
        }
        for end in ("f", "r")
    ],
    "fittings": [
        {
            "key": key(f"fit {axle}"),
            "wheel_pair": "w-1",
            "axle": axle,
            "fitted_at": "2026-06-12T07:00:00Z",
            "vendor": "tarn",
            "lot": f"lot-{axle[0]}",
            "tire": f"LABEL{axle[0].upper()}",
        }
        for axle in ("front", "rear")
    ],
    "stints": [
        {
            "key": key("stint"),
            "wheel_pair": "w-1",
            "event": "june-friday",
            "date": "2026-06-12",
            "started_at": "2026-06-12T10:00:00+01:00",
            "ended_at": "2026-06-12T10:18:00+01:00",
            "laps": "8",
        }
    ],
    "pressures": [
        {
            "key": key(f"{moment} {label}"),
            "tire": label,
            "stint": key("stint"),
            "moment": moment,
            "taken_at": taken_at,
            "read_kpa": read,
        }
        for moment, taken_at, label, read in (
            ("set", "2026-06-12T08:55:00Z", "LABELF", "200"),
            ("in", "2026-06-12T09:19:00Z", "LABELF", "224.5"),
            ("in", "2026-06-12T09:19:00Z", "LABELR", "211"),
        )
    ],
}


@pytest.fixture
def rows():
    """The rows of a small folder, to be changed by a test before they are written."""
    return {name: [dict(row) for row in rows] for name, rows in ROWS.items()}


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "folder"


@pytest.fixture
def write(folder):
    """Write rows by file name as a folder."""

    def run(rows):
        folder.mkdir(exist_ok=True)
        for name, records in rows.items():
            columns = list(dict.fromkeys(column for record in records for column in record))
            with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, columns)
                writer.writeheader()
                writer.writerows(records)
        return folder

    return run


@pytest.fixture
def bring_in(db, write):
    """Write rows as a folder and import it."""
    return lambda rows, at=NOW: import_folder(write(rows), at=at)


@pytest.fixture(name="key")
def key_of():
    """Make the key of a fact from a name."""
    return key


@pytest.fixture
def service():
    """The service itself as the one who acts."""
    return SERVICE


@pytest.fixture
def now_later():
    """An hour after the folder came in."""
    return NOW + timedelta(hours=1)
