"""`layerwitness watch`: its words, its loop, its end."""

import argparse
import signal
import sys
import time
from datetime import datetime
from pathlib import Path

from server.watch.folder import Folder
from server.watch.sender import Sender, Unreachable, WatchRefused
from server.watch.watcher import Notes, Watcher

EVERY_S, SETTLE_S = 0.5, 1.5


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's words to its parser."""
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="where the microscope's software saves")
    parser.add_argument(
        "--face", type=int, required=True, metavar="ID", help="number of the face, as in its page's address"
    )
    parser.add_argument(
        "--to", required=True, metavar="URL", help="address of Layerwitness, such as http://127.0.0.1:8321"
    )
    parser.add_argument(
        "--after", type=int, metavar="STEP", help="the pictures are taken after this cleaning step; default: as found"
    )
    parser.add_argument("--all", action="store_true", help="send the pictures that lie in the folder already, too")
    parser.add_argument(
        "--settle",
        type=float,
        default=SETTLE_S,
        metavar="SECONDS",
        help=f"a file is complete once it lay unchanged this long (default: {SETTLE_S:g})",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Watch until Ctrl+C; 0 then, 2 where it can't be begun or gone on with."""
    if not args.folder.is_dir():
        print(f"{args.folder} is no folder. Name the one that the software saves into.", file=sys.stderr)
        return 2
    try:
        with Sender(args.to, args.face, args.after) as sender:
            return _watch(args, sender)
    except (WatchRefused, Unreachable) as error:
        print(error, file=sys.stderr)
        return 2


def _watch(args: argparse.Namespace, sender: Sender) -> int:
    for name in (signal.SIGINT, signal.SIGTERM):  # a shell may have told its background jobs to ignore Ctrl+C
        signal.signal(name, signal.default_int_handler)
    watcher = Watcher(Folder(args.folder, args.settle), sender, Notes(args.folder, args.face), _say)
    try:
        watcher.begin(args.all)
        _say(f"Watching {args.folder} for face {args.face} at {sender.to}; Ctrl+C ends it.")
        while True:
            watcher.look()
            time.sleep(EVERY_S)
    except KeyboardInterrupt:
        waiting = len(watcher.notes.waiting)
        later = f" {waiting} not sent yet; the next start sends them." if waiting else ""
        _say(f"Ended. Pictures sent: {watcher.sent}.{later}")
        return 0


def _say(words: str) -> None:
    print(f"{datetime.now():%H:%M:%S}  {words}", flush=True)
