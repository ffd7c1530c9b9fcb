"""What a browser would post from the report form."""

from typing import Any

KEY = "draft-key-of-a-form-0001"


def report_data(**changes: Any) -> dict[str, Any]:
    """Return a filled-in report form; keyword arguments replace fields, None leaves one out."""
    data = {
        "draft_key": KEY,
        "story": "Third go at my rook. The first 40 mm look lovely, then the top moved over.",
        "process": "MEX",
        "machine": "Tern 220",
        "material": "PLA",
        "material_maker": "Fennmoor",
        "batch": "F-2211",
        "layer_height_mm": "0,2",
        "nozzle_mm": "0.4 mm",
        "nozzle_c": "210 °C",
        "bed_c": "60",
        "speed_mm_s": "60 mm/s",
        "failed_at_mm": "43mm",
        "tried": "I tightened the belts; nothing changed.",
        "whose": "own",
        "person_name": "Bettine Halvorsen",
        "answer_by": "mail",
        "email": "bettine@tarnstreet.example",
        "credit_kind": "anonymous",
        "web_page": "",
    }
    return {name: value for name, value in (data | changes).items() if value is not None}
