"""Photographs of a job: kept as plain JPEG without what a camera writes into them (position, serial number, owner).

Pillow reads and writes them: it is there for matplotlib anyway, and pictures from outside are no place for own code.
"""

from __future__ import annotations

import base64
import io
import warnings
from pathlib import Path, PurePosixPath

from PIL import Image, ImageOps, UnidentifiedImageError

from leakdown.disk import digest, read_plain
from leakdown.errors import InputError, LeakdownError, UsageError
from leakdown.file_names import file_name
from leakdown.jobs.record import Job, Photo
from leakdown.jobs.store import LARGEST_RECORDING, PHOTOS, Writing
from leakdown.tuned import tuned

_T = tuned("jobs")
_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP", "GIF")  # each decoder is a way in
_LONGEST_TEXT = 10_000


def add_photo(at: Writing, data: bytes, source: str, place: str = "", text: str = "") -> Photo:
    """Keep a photograph and write its entry. Raises InputError, UsageError, OutputError, with nothing written."""
    if max(len(place), len(text)) > _LONGEST_TEXT:
        raise UsageError(f"the text is longer than {_LONGEST_TEXT} letters", remedy="Say less.")
    kept = plain_jpeg(data, source)
    sha256 = digest(kept)
    same = next((p for p in at.job.photos if p.recording.sha256 == sha256), None)
    if same is not None:
        raise InputError(f"is in the job already: photo {same.number}, {PHOTOS}/{same.recording.file}", where=source)
    name = f"{PurePosixPath(file_name(source)).stem}.jpg"
    return at.add(Photo(0, "", at.keep(kept, source, PHOTOS, name), place, text))


def plain_jpeg(data: bytes, source: str) -> bytes:
    """A picture as upright JPEG of a bounded size, its metadata left behind. Raises InputError."""
    most = int(_T.photo_most_pixels)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # damaged tags are left behind anyway
            with Image.open(io.BytesIO(data), formats=_FORMATS) as image:
                if image.width * image.height > most:
                    what = f"has {image.width} x {image.height} points, more than {most / 1e6:.0f} million"
                    raise InputError(what, where=source, remedy="Make it smaller first.")
                upright = ImageOps.exif_transpose(image).convert("RGB")
    except LeakdownError:
        raise
    except UnidentifiedImageError:
        remedy = f"Give a {', '.join(_FORMATS[1:])} or JPEG file."
        raise InputError("is no picture that can be read", where=source, remedy=remedy) from None
    except Exception as error:  # decoders fail in ways of their own
        raise InputError(f"is a damaged picture ({error})", where=source, remedy="Take or copy it again.") from None
    return _jpeg(upright, int(_T.photo_side))


def _jpeg(image: Image.Image, side: int) -> bytes:
    image.thumbnail((side, side))
    bare = Image.new("RGB", image.size)  # nothing but the points goes on
    bare.paste(image)
    stream = io.BytesIO()
    bare.save(stream, "JPEG", quality=85, optimize=True)
    return stream.getvalue()


def thumbnails(folder: Path, job: Job) -> dict[int, str]:
    """A small copy of each photograph as a data URI, by its entry's number; none of what is missing or changed."""
    found = {}
    for photo in job.photos:
        try:
            data = read_plain(folder / PHOTOS / photo.recording.file, LARGEST_RECORDING)
            if digest(data) == photo.recording.sha256:
                with Image.open(io.BytesIO(data), formats=("JPEG",)) as image:
                    small = _jpeg(image.convert("RGB"), int(_T.thumbnail_side))
                found[photo.number] = f"data:image/jpeg;base64,{base64.b64encode(small).decode()}"
        except (LeakdownError, OSError, ValueError):
            continue  # `job check` says so
    return found
