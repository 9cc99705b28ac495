"""Photos for tests, made by an image library of its own: Pillow, which comes with the plotting library of the tests."""

import io

import numpy as np
from PIL import ExifTags, Image

MADE_WITH = "Somebody's telephone"


def scene(width=640, height=480):
    """Return a picture whose left half is red and whose right half is blue."""
    pixels = np.zeros((height, width, 3), dtype=np.uint8)
    pixels[:, : width // 2] = (200, 30, 30)
    pixels[:, width // 2 :] = (30, 30, 200)
    return Image.fromarray(pixels)


def jpeg(width=640, height=480, *, orientation=1, **options):
    """Return a JPEG as a telephone writes it: which way up, where on earth, and with what it was taken."""
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.Make] = MADE_WITH
    exif.get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitude] = (52.0, 13.0, 7.0)
    return _packed(scene(width, height), "JPEG", exif=exif, quality=85, **options)


def png(width=640, height=480, **options):
    """Return a PNG."""
    return _packed(scene(width, height), "PNG", **options)


def opened(content):
    """Return a picture as the other library reads it, decoded to the last row."""
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


def _packed(image, kind, **options):
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()
