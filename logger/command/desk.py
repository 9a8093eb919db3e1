"""``desk``: the whole job in a browser."""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
from pathlib import Path

from logger.command import options

NAME = "desk"
WHAT = "the whole job in your browser, over one folder of drives"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the folder, and where to open."""
    folder = "folder of session folders and car files (default: this one)"
    parser.add_argument(
        "folder", nargs="?", **options.takes(Path, "FOLDER", folder, default=Path())
    )
    port = options.takes(int, "N", "port (default: any that is free)", default=0)
    parser.add_argument("--port", **port)
    listen = (
        "address of this machine to open for a phone in the same garage; a token guards it "
        "(default: this machine only)"
    )
    parser.add_argument("--listen", **options.takes(str, "ADDRESS", listen, default="127.0.0.1"))
    parser.add_argument("--no-browser", action="store_true", help="open no browser")


def run(arguments: argparse.Namespace) -> int:
    """Serve until it is closed."""
    from logger.desk.server import Opening, serve

    folder: Path = arguments.folder
    folder.mkdir(parents=True, exist_ok=True)
    opening = Opening(
        folder=folder,
        address=arguments.listen,
        port=arguments.port,
        opens_browser=not arguments.no_browser,
    )
    serve(opening, lambda line: print(line, flush=True))
    return options.DONE
