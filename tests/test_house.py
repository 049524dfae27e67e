"""Promises of the house: what is written about it is true, and what must not be in it isn't."""

import re
import subprocess
import sys
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from server.settings import Settings

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
MAKEFILE = (ROOT / "Makefile").read_text(encoding="utf-8")
WRITTEN = {".py", ".md", ".toml", ".html", ".css", ".js", ".svg", ".mako", ".txt", ".json", ".yml", ".cfg", ""}
MEGABYTE = 1_000_000

# Put together here, so that this file does not hold them itself.
UNWANTED = [
    re.compile(pattern)
    for pattern in (
        "/" + "work/", "/" + "tmp/", "/" + "root/", r"\.\./" + "shared",
        r"(?i)\bthe " + r"(issue|brief)\b", "py" + r"pi\.org", "pythonhosted" + r"\.org", "npm" + r"js\.(org|com)",
        "deb" + r"ian\.org", r"(?i)chat" + "gpt", r"(?i)\bclau" + r"de\b",
        r"(?i)to" + r"do\b:?\s*(later|implement|fix)",
    )
]  # fmt: skip


def kept_files() -> list[Path]:
    """Return the files that are under version control; without it there is nothing to check."""
    try:
        listing = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a clone: there is no list of kept files")
    return [ROOT / name for name in listing.decode().split("\0") if name and (ROOT / name).is_file()]


def written_files() -> dict[Path, str]:
    """Return the text of every kept file that people write."""
    texts = [path for path in kept_files() if path.suffix in WRITTEN]
    return {path: path.read_text(encoding="utf-8") for path in texts}


def test_no_kept_file_names_a_machine_or_a_package_host() -> None:
    """What is committed reads the same on every computer."""
    found = [
        f"{path.relative_to(ROOT)}: {match[0]!r}"
        for path, text in written_files().items()
        for pattern in UNWANTED
        for match in pattern.finditer(text)
    ]

    assert not found


def test_pages_ask_nothing_of_any_other_host() -> None:
    """Templates, styles and scripts hold no address but the namespaces of SVG."""
    for folder in ("templates", "static"):
        for path in (ROOT / folder).rglob("*"):
            if path.suffix in {".html", ".css", ".js", ".svg"}:
                addresses = re.findall(
                    r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}[^\s\"')]*", path.read_text(encoding="utf-8")
                )
                assert not [a for a in addresses if not a.startswith("http://www.w3.org/")], path


def test_templates_hold_no_inline_style_script_or_unescaped_text() -> None:
    """The strict policy for content, and escaping, hold for every template."""
    inline = re.compile(
        r"""\sstyle=["']|\son[a-z]+=["']|<style|<script(?![^>]*\ssrc=)|\|\s*safe\b|autoescape\s+false"""
    )
    for path in (ROOT / "templates").rglob("*.html"):
        assert not inline.findall(path.read_text(encoding="utf-8")), path


def test_each_dependency_says_what_it_saves() -> None:
    """DEVELOPERS.md has one line for each thing that is installed, and none for a thing that isn't."""
    wanted = [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["test"]]
    names = sorted(re.split(r"[<>=;\[ ]", line)[0] for line in wanted)

    assert sorted(re.findall(r"^\| `([a-z0-9-]+)` \| [^|]{15,} \|$", DEVELOPERS, re.M)) == names


def test_each_setting_is_in_the_table_with_its_default() -> None:
    """The table of settings in DEVELOPERS.md names exactly those that are read."""
    told = dict(re.findall(r"^\| `LAYERWITNESS_([A-Z_]+)` \| `?([^|`]+)`? \|", DEVELOPERS, re.M))
    assert set(told) == {spec.name.upper() for spec in fields(Settings)}

    for spec in fields(Settings):
        if isinstance(spec.default, int) and not isinstance(spec.default, bool):
            assert int(told[spec.name.upper()].replace(" ", "")) == spec.default, spec.name


def test_only_the_settings_read_the_environment() -> None:
    """One file of the program reads it; everyone else is handed what it needs."""
    readers = [
        path.relative_to(ROOT).as_posix()
        for folder in ("analysis", "server", "migrations")
        for path in (ROOT / folder).rglob("*.py")
        # WINDIR is no setting of ours: it is where Windows keeps its fonts.
        if re.search(r"\bos\.(environ|getenv)\b(?!.{0,6}WINDIR)", path.read_text(encoding="utf-8"))
    ]

    assert readers == ["server/settings.py"]


def test_every_file_and_command_that_the_texts_name_is_there() -> None:
    """Links and pictures of README.md and DEVELOPERS.md lead somewhere, and each `make` word is a target."""
    for text in (README, DEVELOPERS):
        for target in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / target).exists(), target
        for target in re.findall(r"(?:^    |`)make ([a-z]+)\b", text, re.M):
            assert re.search(rf"^{target}:", MAKEFILE, re.M), target


def test_the_files_and_folders_that_developers_are_sent_to_exist() -> None:
    """Every path in backquotes in DEVELOPERS.md exists."""
    for name in re.findall(r"`([a-z_.]+/[A-Za-z0-9_./-]*)`", DEVELOPERS):
        assert (ROOT / name).exists(), name


@pytest.mark.parametrize(
    "words",
    re.findall(r"layerwitness ((?:serve|measure|watch|demo|export|import|migrate)\b[^\n`]*)", README + DEVELOPERS),
)
def test_the_command_lines_in_the_texts_are_understood(words: str) -> None:
    """A reader who types them gets no complaint about an option."""
    from server.command import _parser

    line = words.split("#")[0].split()
    if line[-1] != "--help":
        _parser(line).parse_args(line)


def test_help_answers_without_loading_the_program() -> None:
    """`layerwitness --help` loads neither the web nor the measuring, so it answers at once."""
    code = "import sys, server.command as c\ntry: c.main(['--help'])\nexcept SystemExit: pass\nprint(*sys.modules)"
    shown = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True).stdout

    assert not {"numpy", "fastapi", "sqlmodel", "uvicorn", "jinja2"} & set(shown.split())


def test_pictures_keep_within_their_bounds() -> None:
    """The demo's photos stay under 6 MB together, the tests' faces under 8 MB, README's pictures under 3 MB."""
    for folder, limit in (("server/demo/photos", 6), ("tests/faces", 8), ("docs/pictures", 3)):
        size = sum(path.stat().st_size for path in (ROOT / folder).rglob("*") if path.is_file())
        assert 0 < size <= limit * MEGABYTE, folder
