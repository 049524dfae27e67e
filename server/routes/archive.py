"""The whole record in one file: taking it, and putting it into an empty log."""

import tempfile
from datetime import date
from pathlib import Path

from fastapi import Request
from fastapi.responses import FileResponse, Response
from sqlmodel import col, func, select
from starlette.background import BackgroundTask
from starlette.datastructures import UploadFile

from server.archive.checking import ArchiveRefused
from server.archive.reading import import_archive
from server.archive.writing import export
from server.database import SessionDep
from server.formpage import MaybeSent
from server.pages import go, show
from server.records import Failure, Part, Photo


def archive(request: Request, session: SessionDep, sent: MaybeSent) -> Response:
    refused = ""
    if sent is not None:
        file = sent.get("file")
        try:
            if not isinstance(file, UploadFile) or not file.filename:
                raise ArchiveRefused("No file was chosen.")
            session.close()  # the import writes through a connection of its own
            state = request.app.state
            import_archive(state.engine, state.store, file.file, state.settings.attachment_max_bytes)
            return go(request, "parts")
        except ArchiveRefused as error:
            refused = str(error)
    counts = [
        (name, session.exec(select(func.count(col(kind.id)))).one())
        for name, kind in (("parts", Part), ("failures", Failure), ("photos", Photo))
    ]
    context = {"title": "Everything in one file", "counts": counts, "refused": refused, "empty": not counts[0][1]}
    return show(request, "archive/archive.html", context, 422 if refused else 200)


def archive_file(request: Request) -> Response:
    state = request.app.state
    folder = tempfile.TemporaryDirectory(dir=state.settings.data, prefix=".export-")
    file = Path(folder.name) / "record.zip"
    try:
        export(state.engine, state.store, file)
    except BaseException:
        folder.cleanup()
        raise
    name = f"layerwitness-{date.today()}.zip"
    return FileResponse(file, media_type="application/zip", filename=name, background=BackgroundTask(folder.cleanup))
