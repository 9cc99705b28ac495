"""Learning from rows: no samples one by one."""

from tests.science.promises.row import Row

ROWS: list[Row] = []

EXEMPT = {
    "pooling.codes.encode": "words to codes; refusals in test_pooling_refusals",
    "pooling.fitting.fit": "one fit of all rows, NaN refused as it has no place; refusals in test_pooling_refusals",
    "pooling.packing.pack": "a fit to bytes",
    "pooling.packing.unpack": "bytes to a fit",
    "levels.known_codes": "refused by the factor's name, as rows of expected_rise and rate_prior show",
    "levels.counted": "codes that known_codes has checked",
    "measured.fit_measured": "pooling.fit with noisy rows",
    "practice.practice": "words to figures; refusals in test_practice",
    "practice.figures": "a field of figures by its name",
}

INNER = dict.fromkeys(
    [
        f"pooling.{name}"
        for name in ("absorption", "assembly", "blocks", "inputs", "likelihood", "minimum", "search")
    ],
    "algebra of pooling.fit, which checks what goes in",
)
