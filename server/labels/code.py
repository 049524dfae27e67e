"""The square code of a label (ISO/IEC 18004), as SVG."""

import io
from urllib.parse import urlsplit

import segno

QUIET_MODULES = 4  # the margin that ISO/IEC 18004 asks for around the symbol
LONGEST = 120
HERE_ONLY = {"localhost", "127.0.0.1", "::1"}


class AddressRefused(ValueError):
    """What was given can't be the beginning of an address; the message says how to write one."""


def check_base(typed: str) -> str:
    """Return the beginning of the addresses that codes hold, without its last slash; raise `AddressRefused`."""
    base = typed.strip().rstrip("/")
    try:
        parts = urlsplit(base)
        good = parts.scheme in {"http", "https"} and bool(parts.hostname) and not (parts.query or parts.fragment)
    except ValueError:
        good = False
    if not good or len(base) > LONGEST or any(not sign.isprintable() or sign.isspace() for sign in base):
        raise AddressRefused(f"Write it as http://bench.local:8321, in at most {LONGEST} characters.")
    return base


def opens_here_only(base: str) -> bool:
    """Whether only the computer that serves the pages can open such an address."""
    return urlsplit(base).hostname in HERE_ONLY


def code_svg(text: str) -> bytes:
    """Return the code of `text` as SVG, black on white with its margin; spare room goes into error correction."""
    file = io.BytesIO()
    code = segno.make_qr(text, error="m")
    code.save(file, kind="svg", border=QUIET_MODULES, light="#fff", svgclass=None, lineclass=None, omitsize=True)
    return file.getvalue()
