"""Who may import whom. The files are read, not run, so that even an import inside a function is seen."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# The road through analysis/, one folder a stage; "" are the files that stand above them all.
# A file imports from its own stage and from earlier ones, never from a later one.
ROAD = (
    "common", "materials", "imaging", "fields", "outlines", "roads", "welds", "reading", "measures", "halves", "course",
    "strength", "evidence", "nextbuild", "life", "",
)  # fmt: skip

# No web, no database, no calendar, no temporary files: a stage is arithmetic on what it was given.
BARRED = {
    "server", "migrations", "fastapi", "starlette", "uvicorn", "httpx", "sqlmodel", "sqlalchemy", "alembic", "jinja2",
    "wtforms", "platformdirs", "sqlite3", "datetime", "tempfile", "shutil", "subprocess", "socket", "urllib", "http",
}  # fmt: skip


def imported(path: Path) -> set[str]:
    """Return the dotted names that a file imports, wherever in it the import stands."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write imports from the top, such as analysis.imaging.photo"
            names |= {f"{node.module}.{alias.name}" for alias in node.names} | {str(node.module)}
    return names


def stage(name: str) -> str:
    """Return the folder of a dotted name such as analysis.welds.cues; "" for analysis.examine."""
    return name.split(".")[1] if name.count(".") > 1 else ""


def needs(path: Path) -> set[str]:
    """Return the files of analysis/ that a file imports, as dotted names."""
    return imported(path) & set(FILES)


FILES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts): path
    for path in sorted((ROOT / "analysis").rglob("*.py"))
    if path.stem != "__init__" and "training" not in path.parts
}


def test_every_folder_of_analysis_has_its_place_on_the_road() -> None:
    """A new folder is given its stage here, and a folder that is gone is taken off."""
    assert {stage(name) for name in FILES} == set(ROAD)


@pytest.mark.parametrize("name", FILES)
def test_a_stage_never_imports_a_later_one(name: str) -> None:
    """Data flow one way, from the photo to the verdict."""
    here = ROAD.index(stage(name))

    assert not {other for other in needs(FILES[name]) if ROAD.index(stage(other)) > here}


def test_no_circle_of_imports_inside_a_stage() -> None:
    """Files of one stage can be put in an order too."""
    left = {name: needs(path) - {name} for name, path in FILES.items()}
    while free := [name for name, wanted in left.items() if not wanted & set(left)]:
        for name in free:
            del left[name]

    assert not left


@pytest.mark.parametrize("path", sorted((ROOT / "analysis").rglob("*.py")), ids=lambda path: path.stem)
def test_analysis_knows_no_web_no_record_and_no_calendar(path: Path) -> None:
    """What is measured depends on the photo and on what is said of it, on nothing around it."""
    assert not {name.split(".")[0] for name in imported(path)} & BARRED


def test_only_examine_knows_all_stages() -> None:
    """The whole road is assembled in one file; the command and the server call that one."""
    ends = {"imaging", "outlines", "measures", "halves", "evidence"}
    whole = {name for name, path in FILES.items() if ends <= {stage(other) for other in needs(path)}}

    assert whole == {"analysis.examine"}


def test_records_know_nothing_of_pages() -> None:
    """The tables import each other and nothing else of the server."""
    for path in (ROOT / "server" / "records").glob("*.py"):
        server = {name for name in imported(path) if name.startswith("server.")}
        assert all(name.startswith("server.records") for name in server), path


def test_forms_do_not_reach_for_the_record_or_the_pages() -> None:
    """A form reads and judges fields; what is stored and shown is decided elsewhere."""
    for path in (ROOT / "server" / "forms").glob("*.py"):
        assert not {
            name for name in imported(path) if name.startswith(("server.routes", "server.pages", "server.app"))
        }, path


def test_nothing_below_imports_a_page_handler() -> None:
    """Handlers stand at the top: only the table of addresses and other handlers name them."""
    for path in (ROOT / "server").rglob("*.py"):
        if path.parent.name != "routes" and path.name not in {"addresses.py", "app.py"}:
            assert not {name for name in imported(path) if name.startswith("server.routes")}, path
