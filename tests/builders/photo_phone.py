"""Photos as a phone's camera makes them, chosen by a person in a browser, and what came of them."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

from page_farm import PageFarm
from photo_files import GPS, exif, markers

from monitor.store.photos import EntryPhoto

if TYPE_CHECKING:
    from playwright.sync_api import FilePayload, Page

CAMERA = """async () => {
  const canvas = new OffscreenCanvas(4000, 3000), context = canvas.getContext("2d");
  const dots = context.createImageData(4000, 3000), values = new Uint32Array(dots.data.buffer);
  let seed = 7;
  for (let at = 0; at < values.length; at += 1) {
    seed = (seed * 1664525 + 1013904223) >>> 0;
    const x = at % 4000, light = (x < 2000 ? 60 : 170) + (seed >>> 27);
    values[at] = 0xff000000 | (light << 16) | (light << 8) | light;
  }
  context.putImageData(dots, 0, 0);
  const blob = await canvas.convertToBlob({ type: "image/jpeg", quality: 0.95 });
  const reader = new FileReader();
  return new Promise((resolve) => {
    reader.onload = () => resolve(reader.result.split(",")[1]);
    reader.readAsDataURL(blob);
  });
}"""


def camera_photo(page: Page) -> bytes:
    """Twelve million dots with noise, dark on the left; held upright, with place and time of the camera."""
    plain = base64.b64decode(page.evaluate(CAMERA))
    photo = plain[:2] + exif() + plain[2:]
    assert len(photo) > 3_000_000 and GPS in photo
    return photo


class Book:
    """What was written since."""

    def __init__(self, farm: PageFarm) -> None:
        self.store, self.before = farm.service.store, farm.service.store.logbook.newest_id()

    def kinds(self) -> list[str]:
        """The kinds of the entries."""
        return [entry.kind for entry in self.store.logbook.after(self.before)]

    def photos(self) -> list[EntryPhoto]:
        """Their photos."""
        numbers = [entry.entry_id or 0 for entry in self.store.logbook.after(self.before)]
        return list(self.store.photos.of(numbers).values())

    def content(self, photo: EntryPhoto) -> bytes:
        """What is stored of one."""
        return self.store.photos.file(photo.name).read_bytes()


def of_camera(content: bytes) -> FilePayload:
    return {"name": "IMG_0001.jpg", "mimeType": "image/jpeg", "buffer": content}


def choose(page: Page, content: bytes, kind: str = "image/jpeg") -> None:
    """A person chooses a photo; what the phone makes of it is awaited."""
    page.locator("input[name=photo]").set_input_files({**of_camera(content), "mimeType": kind})
    page.locator(".photo [role=status]:has-text('kB'), .photo [role=status]:has-text('cannot')").wait_for()


def is_only_a_picture(content: bytes) -> bool:
    """No segment but those that draw it, and nothing of what the camera knew."""
    drawing = {0xD8, 0xE0, 0xDB, 0xC0, 0xC4, 0xDA, 0xD9}
    return set(markers(content)) <= drawing and GPS not in content and b"Exif" not in content
