"""A treatment of nobody, as far as outcomes need it."""

CASE = {
    "case": {"code": "T-1", "revision": 1},
    "patient": {"name": "Invented Person", "birth_date": "1960-01-01", "record_number": "INV-1", "language": "en-US"},
    "eye": {"side": "right", "lens": "natural"},
    "plan": {"start": "2026-01-09T10:00", "surgeon": "sample", "place": "Laser room", "regimen": "usual"},
    "treatment": {
        "rows": [{"pulse_energy_mj": 4.5, "pulses": 100}], "last_pulse": "2026-01-09T10:20", "leaves": "2026-01-09T11:30",
    },
}
