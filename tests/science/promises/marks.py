"""What stands on the sidewall."""

from fleet.science import tire_size
from tests.science.promises.row import Row

ROWS = [
    Row(
        tire_size.diameter_mm,
        {"width_mm": (120.0, 180.0), "aspect": (70.0, 55.0), "rim_mm": (432.0, 457.0)},
        refused=(
            ("width_mm", 0.0, "above 0, not 0"),
            ("aspect", 24.0, "at least 25, not 24"),
            ("aspect", 170.0, "at most 100, not 170"),
            ("rim_mm", 0.0, "above 0, not 0"),
        ),
    ),
]

EXEMPT = {
    "tire_size.parse_size": "reads words; refusals in test_tire_size",
    "rim_width.usual_rims": "looks a size up in a table; tested in test_rim_width",
    "date_codes.parse_tin": "reads words; refusals in test_date_codes",
    "date_codes.week_start": "a date of two whole numbers; refusals in test_date_codes",
    "date_codes.age_years": "years between two dates; refusals in test_date_codes",
}
