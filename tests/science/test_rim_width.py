"""Which rims a size usually goes on: common practice, no published source; what the table must obey is geometry."""

import pytest

from fleet.science.rim_width import RIMS_IN, RimRange, usual_rims
from fleet.science.tire_size import parse_size

MM_PER_IN = 25.4  # NIST SP 811, appendix B


@pytest.mark.parametrize(
    ("size", "rim_in", "goes"),
    [
        # Common practice, no published source (from memory): the pairs that sport bikes leave the works with.
        ("120/70 ZR17 M/C (58W)", 3.5, True),
        ("180/55 ZR17 M/C (73W)", 5.5, True),
        ("190/55 ZR17 M/C (75W)", 6.0, True),
        ("200/55 ZR17 M/C (78W)", 6.0, True),
        ("110/70 R17 M/C 54H", 2.75, True),
        ("140/70 R17 M/C 66H", 4.0, True),
        ("160/60 ZR17", 4.5, True),
        # A size or two beside it.
        ("200/55 ZR17", 5.5, False),
        ("180/55 ZR17", 5.0, False),
        ("140/70 R17", 5.5, False),
        ("120/70 ZR17", 4.5, False),
    ],
)
def test_a_size_goes_on_the_rims_it_is_made_for(size, rim_in, goes):
    rims = usual_rims(parse_size(size))

    assert rims.holds(rim_in) is goes


def test_a_size_practice_has_no_word_for_is_not_guessed():
    assert usual_rims(parse_size("325/40 R17")) is None


def test_a_rim_written_in_millimeters_is_not_lost_to_rounding():
    assert RimRange(5.5, 6.0).holds(round(5.5 * MM_PER_IN) / MM_PER_IN)


def test_no_rim_is_wider_than_its_tire_nor_far_narrower():
    for (width_mm, _), (narrowest, widest) in RIMS_IN.items():
        assert narrowest < widest
        assert narrowest * MM_PER_IN / width_mm > 0.45
        assert widest * MM_PER_IN / width_mm < 1.0


def test_of_two_sizes_alike_in_height_the_wider_never_asks_for_a_narrower_rim():
    for (width_mm, aspect), (narrowest, widest) in RIMS_IN.items():
        wider = [one for one in RIMS_IN if one[0] > width_mm and one[1] == aspect]
        for one in wider:
            assert RIMS_IN[one][0] >= narrowest
            assert RIMS_IN[one][1] >= widest
