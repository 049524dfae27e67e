"""The command line. What a command needs is imported when it runs, so that --help answers at once."""

import argparse
import socket
import subprocess
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from server.settings import Settings


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status: 0 done, 2 the input or a setting can't be used."""
    words = list(sys.argv[1:] if words is None else words)
    args = _parser(words).parse_args(words)
    status: int = args.run(args)
    return status


def _parser(words: Sequence[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="layerwitness", description="A fractography logbook for broken FFF-printed parts."
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    serve = commands.add_parser(
        "serve", help="serve the pages on this machine", description="Serve the pages; Ctrl+C ends it."
    )
    serve.add_argument("--host", help="address to listen on (default: LAYERWITNESS_HOST or 127.0.0.1)")
    serve.add_argument("--port", type=int, help="port to listen on (default: LAYERWITNESS_PORT or 8321)")
    serve.add_argument("--demo", action="store_true", help="load the invented demo first, if the record is empty")
    serve.set_defaults(run=_serve)
    _add_measure(commands, words)
    _add_watch(commands, words)
    demo = commands.add_parser("demo", help="load the invented demo into an empty record")
    demo.add_argument(
        "--if-empty", action="store_true", help="do nothing, and say nothing, where the record holds parts already"
    )
    demo.set_defaults(run=_demo)
    export = commands.add_parser("export", help="write the whole record to one archive")
    export.add_argument("file", metavar="FILE", help="the archive, such as record.zip; never written over")
    export.set_defaults(run=_export)
    import_ = commands.add_parser("import", help="read such an archive into an empty record")
    import_.add_argument("file", metavar="FILE", help="the archive")
    import_.set_defaults(run=_import)
    migrate = commands.add_parser("migrate", help="bring the record's tables to this version")
    migrate.set_defaults(run=_migrate)
    return parser


def _add_measure(commands: "argparse._SubParsersAction[argparse.ArgumentParser]", words: Sequence[str]) -> None:
    parser = commands.add_parser("measure", help="measure one photo and print what was found")
    if list(words[:1]) == ["measure"]:
        # numpy and what comes with it take most of a second: only this command pays for them.
        from analysis import command_measure

        command_measure.add_arguments(parser)
        parser.set_defaults(run=command_measure.run)


def _add_watch(commands: "argparse._SubParsersAction[argparse.ArgumentParser]", words: Sequence[str]) -> None:
    parser = commands.add_parser(
        "watch",
        help="send each new picture of a folder to a face",
        description="Send each new picture that other software saves into FOLDER to a face; Ctrl+C ends it.",
    )
    if list(words[:1]) == ["watch"]:
        from server.watch import command

        command.add_arguments(parser)


def _settings() -> "Settings | None":
    from server.settings import SettingsRefused, read_settings

    try:
        return read_settings()
    except SettingsRefused as error:
        print(error, file=sys.stderr)
        return None


def _serve(args: argparse.Namespace) -> int:
    from dataclasses import replace

    settings = _settings()
    if settings is None:
        return 2
    settings = replace(settings, host=args.host or settings.host, port=args.port or settings.port)
    if not _is_free(settings.host, settings.port):
        print(
            f"Port {settings.port} of {settings.host} is taken or can't be used. Choose another: --port 8400",
            file=sys.stderr,
        )
        return 2
    if args.demo:
        # A process of its own: measuring's libraries need not stay in the server's memory.
        subprocess.run([sys.executable, "-m", "server.command", "demo", "--if-empty"], check=True)
    return _serve_app(settings)


def _serve_app(settings: "Settings") -> int:
    import uvicorn

    from server.app import create_app

    app = create_app(settings)
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    print(f"Layerwitness is at http://{host}:{settings.port}/  (Ctrl+C ends it). Its data: {settings.data}", flush=True)
    uvicorn.run(app, host=settings.host, port=settings.port, log_level="warning")
    return 0


def _is_free(host: str, port: int) -> bool:
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            if sys.platform != "win32":  # there the option would let two servers share the port
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except (OSError, OverflowError):
        return False
    return True


def _demo(args: argparse.Namespace) -> int:
    from server.demo.load import DemoRefused, load_demo

    settings = _settings()
    if settings is None:
        return 2
    try:
        load_demo(settings, say=print)
    except DemoRefused as error:
        if args.if_empty:
            return 0
        print(error, file=sys.stderr)
        return 2
    return 0


def _export(args: argparse.Namespace) -> int:
    from pathlib import Path

    from server.archive.writing import ExportRefused, export
    from server.database import migrate, open_engine
    from server.store import Store

    settings = _settings()
    if settings is None:
        return 2
    if not (settings.data / "record.sqlite3").exists():
        print(f"There is no record in {settings.data}. LAYERWITNESS_DATA names another folder.", file=sys.stderr)
        return 2
    engine = open_engine(settings.database_url)
    try:
        migrate(engine)
        manifest = export(engine, Store(settings.blob_folder), Path(args.file))
    except (ExportRefused, OSError) as error:
        print(error, file=sys.stderr)
        return 2
    finally:
        engine.dispose()
    print(f"{sum(manifest['rows'].values())} rows and {len(manifest['originals'])} originals are in {args.file}.")
    for sha256 in manifest["missing_originals"]:
        print(f"The original {sha256} is not in the store and so not in the archive.", file=sys.stderr)
    return 0


def _import(args: argparse.Namespace) -> int:
    from server.archive.checking import ArchiveRefused
    from server.archive.reading import import_archive
    from server.database import migrate, open_engine
    from server.store import Store

    settings = _settings()
    if settings is None:
        return 2
    settings.data.mkdir(parents=True, exist_ok=True)
    engine = open_engine(settings.database_url)
    try:
        with open(args.file, "rb") as file:
            migrate(engine)
            rows = import_archive(engine, Store(settings.blob_folder), file, settings.attachment_max_bytes)
    except (ArchiveRefused, OSError) as error:
        print(error, file=sys.stderr)
        return 2
    finally:
        engine.dispose()
    print(f"{sum(rows.values())} rows were imported into {settings.data}.")
    return 0


def _migrate(args: argparse.Namespace) -> int:
    from server.database import migrate, open_engine

    settings = _settings()
    if settings is None:
        return 2
    settings.data.mkdir(parents=True, exist_ok=True)
    engine = open_engine(settings.database_url)
    migrate(engine)
    engine.dispose()
    print(f"The record in {settings.data} is at this version's tables.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
