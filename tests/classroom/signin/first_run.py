"""The first run of a fresh installation, and what its form says."""

from __future__ import annotations

SAID = {
    "name": "Saltmarsh Harbour School",
    "currency": "eur",
    "units": "in",
    "paper": "letter",
    "time_zone": "Europe/Lisbon",
    "display_name": "Marit Quay",
    "username": "Marit.Quay",
    "new": "tide-lantern-quay-42",
    "again": "tide-lantern-quay-42",
}
URL = "/first-run/"
