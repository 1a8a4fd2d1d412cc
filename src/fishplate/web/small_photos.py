"""Photos made small for lists, and pictures a browser can't show made into ones it can."""

from __future__ import annotations

import io
import threading
import warnings
from collections import OrderedDict
from collections.abc import Callable
from functools import lru_cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from PIL.Image import Image

HEIC: Final = "image/heic"
SMALL, LARGE = 480, 2000
QUALITY: Final = 82
# Above this a picture is not opened: a small file can unfold into very many points.
MOST_POINTS: Final = 120_000_000


class SmallPhotos:
    """Photos made small, each once; the last ones are kept. One is made at a time.

    Parameters
    ----------
    most_bytes : how much is kept
    """

    def __init__(self, *, most_bytes: int = 16 * 1024 * 1024) -> None:
        self._most, self._lock = most_bytes, threading.Lock()
        self._held: OrderedDict[tuple[str, int], bytes | None] = OrderedDict()

    def of(self, key: str, side: int, read: Callable[[], bytes]) -> bytes | None:
        """A photo as a JPEG that is at most so wide and high; None if it can't be opened.

        Parameters
        ----------
        key : names the content; side : largest width and height [px]; read : gives the content
        """
        with self._lock:
            if (key, side) not in self._held:
                self._held[key, side] = small(read(), side)
            self._held.move_to_end((key, side))
            while sum(len(content or b"") for content in self._held.values()) > self._most:
                self._held.popitem(last=False)
            return self._held.get((key, side))

    def soon(self, key: str, side: int, content: bytes) -> None:
        """Make a photo small beside the pages, so that it is ready when it is asked for."""
        threading.Thread(target=self.of, args=(key, side, lambda: content), daemon=True).start()


def small(content: bytes, side: int) -> bytes | None:
    """A photo as a JPEG that is at most so wide and high, upright; None if it can't be opened.

    Parameters
    ----------
    content : of a JPEG, PNG, WebP or HEIC file; side : largest width and height [px]
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    can_show_heic()
    try:
        with warnings.catch_warnings(), Image.open(io.BytesIO(content)) as opened:
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # bounded here, and lower
            if opened.width * opened.height > MOST_POINTS:
                return None
            opened.draft("RGB", (side, side))
            upright = ImageOps.exif_transpose(opened)
            upright.thumbnail((side, side))
            return _jpeg(upright)
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError):
        return None


def _jpeg(image: Image) -> bytes:
    from PIL import Image as Images

    if image.mode not in ("RGB", "L"):
        whole = image.convert("RGBA")
        white = Images.new("RGB", image.size, "white")
        white.paste(whole, mask=whole.getchannel("A"))
        image = white
    written = io.BytesIO()
    image.save(written, "JPEG", quality=QUALITY, optimize=True)
    return written.getvalue()


@lru_cache(maxsize=1)
def can_show_heic() -> bool:
    """Whether pictures as telephones take them (HEIC) can be opened here."""
    try:
        from pi_heif import register_heif_opener
    except ImportError:
        return False
    register_heif_opener()
    return True
