"""Photographs: kept small, upright and without metadata; checked, exported, shown."""

from __future__ import annotations

import io
from pathlib import Path
from zipfile import ZipFile

import pytest
from PIL import Image, TiffImagePlugin

from leakdown.errors import InputError, RecordError
from leakdown.jobs.adding import add_note, note_of
from leakdown.jobs.check import check, export
from leakdown.jobs.page import REPORT, attach
from leakdown.jobs.photos import add_photo, plain_jpeg, thumbnails
from leakdown.jobs.record import Engine
from leakdown.jobs.store import PHOTOS, create, load, writing
from leakdown.jobs.story import story_of


def camera_picture(width: int = 3000, height: int = 1500) -> bytes:
    """A JPEG as a telephone writes it: lying on its side, with position, owner and a serial number (invented)."""
    image = Image.new("RGB", (width, height), (200, 30, 30))
    image.paste((20, 20, 200), (0, 0, width // 3, height // 3))
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned by 90 degrees clockwise (TIFF 6.0, tag Orientation)
    exif[0x8298] = "OWNER OF THE CAMERA"
    place = exif.get_ifd(0x8825)  # GPS
    place[1], place[2] = "N", tuple(TiffImagePlugin.IFDRational(n) for n in (47, 30, 12))
    stream = io.BytesIO()
    image.save(stream, "JPEG", exif=exif, comment=b"SERIAL 0815")
    return stream.getvalue()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    create(tmp_path, "J1", Engine("pump"))
    return tmp_path


def test_a_photo_is_kept_small_upright_and_without_what_a_camera_writes() -> None:
    given = camera_picture()
    assert b"OWNER" in given and b"SERIAL" in given
    kept = plain_jpeg(given, "x.jpg")
    image = Image.open(io.BytesIO(kept))
    assert image.size == (1000, 2000) and image.format == "JPEG" and not dict(image.getexif())
    assert b"OWNER" not in kept and b"SERIAL" not in kept and "comment" not in image.info
    red, _, blue = image.getpixel((990, 10))  # the blue corner was at the left before it was turned
    assert blue > red


@pytest.mark.parametrize("ending", ["PNG", "WEBP", "TIFF"])
def test_other_kinds_are_read(ending: str) -> None:
    stream = io.BytesIO()
    Image.new("RGBA", (30, 20), (1, 2, 3, 100)).convert("RGB").save(stream, ending)
    assert Image.open(io.BytesIO(plain_jpeg(stream.getvalue(), "x"))).size == (30, 20)


def test_what_is_no_picture_or_too_large_is_refused() -> None:
    whole = camera_picture()
    for data in (b"", b"time,pressure\n0,40\n", b"%PDF-1.4", whole[:200]):
        with pytest.raises(InputError, match=r"picture"):
            plain_jpeg(data, "x.jpg")
    stream = io.BytesIO()
    Image.new("1", (20_000, 6_000)).save(stream, "PNG")
    with pytest.raises(InputError, match="more than 100 million"):
        plain_jpeg(stream.getvalue(), "bomb.png")


def test_page_story_check_and_export_know_the_photo(root: Path) -> None:
    with writing(root, "J1") as at:
        photo = add_photo(at, camera_picture(), "../../seal\x1b.jpeg", "flywheel side", "torn lip")
        with pytest.raises(InputError, match="in the job already"):
            add_photo(at, camera_picture(), "again.jpg")
        attach(at.folder, at.job)
    folder, job = root / "J1", load(root / "J1")
    assert job.photos == (photo,) and photo.recording.file == "seal_.jpg"
    (step,) = [s for s in story_of(job) if s.kind == "photo"]
    assert step.title == "Photograph: flywheel side" and step.lines == ("torn lip",)
    page = (folder / REPORT).read_text("utf-8")
    assert 'alt="Photograph: flywheel side: torn lip"' in page and thumbnails(folder, job)[photo.number] in page
    assert check(folder, job).sound and not check(folder, job).strangers
    export(folder, job, root / "J1.zip")
    assert f"J1/{PHOTOS}/seal_.jpg" in ZipFile(root / "J1.zip").namelist()
    (folder / PHOTOS / "other.jpg").write_bytes(b"x")
    (folder / PHOTOS / "seal_.jpg").write_bytes(camera_picture(30, 20))
    found = check(folder, job)
    assert not found.sound and found.strangers == (f"{PHOTOS}/other.jpg",) and not thumbnails(folder, job)


def test_a_photo_can_be_withdrawn_and_put_right(root: Path) -> None:
    with writing(root, "J1") as at:
        photo = add_photo(at, camera_picture(60, 40), "a.jpg")
        add_note(at, note_of("it is the other engine", withdraws=photo.number))
        add_note(at, note_of("drive side", corrects=str(photo.number)))
        (step,) = [s for s in story_of(at.job) if s.kind == "photo"]
    assert step.struck and "Correction: drive side" in step.lines and load(root / "J1").withdrawn(photo)


def test_a_folder_that_is_a_file_is_said(root: Path) -> None:
    (root / "J1" / PHOTOS).write_text("x")
    with writing(root, "J1") as at, pytest.raises(RecordError, match="plain folder"):
        add_photo(at, camera_picture(60, 40), "a.jpg")
