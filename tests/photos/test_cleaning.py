"""A photo is drawn anew: its pixels come through, all else stays behind, and what is no photo is refused unopened.

The pictures are made, and what comes out is read, by Pillow, which shares no code with the decoder under test.
"""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from fleet.photos.cleaning import LONGEST_PX, MOST_BYTES, cleaned
from fleet.photos.errors import NoPhoto
from fleet.photos.headers import MOST_PIXELS, MOST_SCANS
from tests.photos.pictures import MADE_WITH, jpeg, opened, png, scene

RED, BLUE = (200, 30, 30), (30, 30, 200)


def near(seen, meant):
    return all(abs(one - other) < 12 for one, other in zip(seen[:3], meant, strict=True))


@pytest.mark.parametrize("data", [jpeg(), jpeg(progressive=True), png()], ids=["jpeg", "progressive", "png"])
def test_the_pixels_come_through(data):
    picture = cleaned(data)

    seen = opened(picture.content)
    assert (seen.format, seen.size) == ("PNG", (640, 480))
    assert (picture.width_px, picture.height_px) == (640, 480)
    assert near(seen.getpixel((100, 240)), RED)
    assert near(seen.getpixel((540, 240)), BLUE)


def test_a_large_photo_is_made_smaller_and_stays_in_shape():
    picture = cleaned(jpeg(2000, 1000))

    assert (picture.width_px, picture.height_px) == (LONGEST_PX, LONGEST_PX // 2)
    assert opened(picture.content).size == (LONGEST_PX, LONGEST_PX // 2)


def test_a_photo_taken_with_the_telephone_upright_stands_upright():
    # 6 says: turn by a quarter clockwise to see it as it was (Exif 2.32, tag 0x0112); what was left is then on top.
    seen = opened(cleaned(jpeg(640, 480, orientation=6)).content)

    assert seen.size == (480, 640)
    assert near(seen.getpixel((240, 100)), RED)
    assert near(seen.getpixel((240, 540)), BLUE)


def test_where_and_with_what_it_was_taken_stays_behind():
    data = jpeg(comment=b"for nobody")
    before = opened(data)

    after = cleaned(data).content

    assert before.getexif().get_ifd(0x8825)
    assert MADE_WITH.encode() in data
    assert dict(opened(after).getexif()) == {}
    assert not [mark for mark in (b"for nobody", MADE_WITH.encode(), b"Exif") if mark in after]
    assert set(opened(after).info) <= {"dpi", "gamma", "srgb"}


def test_words_in_a_png_and_whatever_follows_a_picture_stay_behind():
    words = PngImagePlugin.PngInfo()
    words.add_text("Author", MADE_WITH)
    hidden = [png(pnginfo=words), png() + b"<script>", jpeg() + b"PK\x03\x04 a second file"]

    for data in hidden:
        content = cleaned(data).content

        assert not [mark for mark in (MADE_WITH.encode(), b"<script>", b"PK\x03\x04") if mark in content]
        assert content.endswith(b"IEND\xaeB`\x82")


def gif():
    file = io.BytesIO()
    scene().save(file, "GIF")
    return file.getvalue()


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"a letter",
        b"\xff\xd8\xff",
        b"\x89PNG\r\n\x1a\n",
        gif(),
        b"%PDF-1.7",
        b"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>",
        jpeg()[:400],
        jpeg()[: len(jpeg()) // 2],
        png()[: len(png()) // 2],
        b"\xff\xd8\xff\xe0" + bytes(500),
        png().replace(b"IDAT", b"iDAT"),
    ],
)
def test_what_is_no_whole_photo_is_refused(data):
    with pytest.raises(NoPhoto) as refused:
        cleaned(data)

    assert refused.value.field == "photo"
    assert "JPEG" in refused.value.sentence


def claiming(width, height):
    """Return a small PNG that claims a size in its header, with a right checksum."""
    data = bytearray(png(8, 8))
    data[16:24] = struct.pack(">II", width, height)
    data[29:33] = struct.pack(">I", zlib.crc32(data[12:29]))
    return bytes(data)


def test_a_small_file_that_claims_a_huge_picture_is_refused_unopened():
    huge = [claiming(30_000, 30_000), claiming(2**31, 2**31)]
    frame = jpeg().find(b"\xff\xc0")
    large = bytearray(jpeg())
    large[frame + 5 : frame + 9] = struct.pack(">HH", 60_000, 60_000)

    for data in [*huge, bytes(large)]:
        with pytest.raises(NoPhoto, match=f"at most {MOST_PIXELS // 1_000_000} million"):
            cleaned(data)


def test_a_file_beyond_the_limit_is_refused():
    with pytest.raises(NoPhoto, match="send at most 12 MB"):
        cleaned(jpeg() + bytes(MOST_BYTES))


def test_a_picture_of_endless_passes_is_refused():
    data = jpeg(progressive=True)
    end = data.rfind(b"\xff\xd9")
    scan = b"\xff\xda\x00\x08\x01\x01\x00\x00\x3f\x00\x00"

    with pytest.raises(NoPhoto, match="broken"):
        cleaned(data[:end] + scan * (MOST_SCANS + 1) + data[end:])


def test_spoilt_files_are_drawn_or_refused_and_nothing_else():
    dice = np.random.default_rng(7)
    outcomes = set()
    for base in (jpeg(64, 48), jpeg(64, 48, progressive=True), png(64, 48)):
        for _ in range(60):
            spoilt = bytearray(base)
            for _ in range(dice.integers(1, 9)):
                spoilt[dice.integers(len(spoilt))] = dice.integers(256)
            try:
                picture = cleaned(bytes(spoilt))
            except NoPhoto:
                outcomes.add("refused")
            else:
                outcomes.add("drawn")
                assert max(opened(picture.content).size) <= LONGEST_PX

    assert outcomes == {"refused", "drawn"}


def test_a_picture_of_one_pixel_is_one():
    assert opened(cleaned(png(1, 1)).content).size == (1, 1)
    assert isinstance(opened(cleaned(png(1, 1)).content), Image.Image)
