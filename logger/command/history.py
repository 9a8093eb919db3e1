"""``history``: every drive of a folder against the baseline."""
# SPDX-License-Identifier: GPL-2.0-or-later

import argparse
from pathlib import Path

from analysis.errors import AnalysisError
from logger.command import options
from logger.command.drives import find_in, told_car
from logger.errors import LoggerError
from logger.folder.harmless import harmless
from logger.folder.output_file import refuse_out, write_text
from logger.software import own_version

NAME = "history"
WHAT = "every drive of a folder against the baseline"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the folder, the baseline and the page."""
    against = "session folder to compare with (default: the one driven first)"
    options.add(
        parser,
        ("folder", Path, "FOLDER", "folder that holds the session folders"),
        ("--baseline", str, "NAME", against),
        ("--out", Path, "FILE.html", "page to write"),
    )
    options.add_shared(parser, "--overwrite", *options.DRIVE, "--units", "--json")


def run(arguments: argparse.Namespace) -> int:
    """Find and compare one drive after the other, write the page, and tell."""
    from logger.shelf import read_shelf

    out, inputs = arguments.out, (arguments.folder, arguments.car)
    refuse_out(out, inputs=inputs, overwrite=arguments.overwrite)
    told, shelf = told_car(arguments), read_shelf(arguments.folder)
    # slow to load: what is wrong with the folder is told before
    from analysis.answers.history_document import history_document
    from analysis.compare.history import make_history
    from analysis.report.compared.history_page import render_history
    from analysis.report.contents import Provenance
    from logger.command.tables.history import history_text

    history = make_history(
        shelf.sessions,
        lambda shelved: find_in(shelved.session, arguments, told),
        shelf.unreadable,
        baseline=arguments.baseline,
        refused=(AnalysisError, LoggerError),
    )
    if out is not None:
        typed = [harmless(word) for word in arguments.typed]
        page = render_history(history, Provenance.now(own_version(), typed, inputs))
        write_text(out, page, overwrite=arguments.overwrite)
    options.give(arguments, history_document(history), history_text(history))
    if out is not None and not arguments.json:
        print(f"The history is in {out}; open it with any browser.")
    return options.DONE
