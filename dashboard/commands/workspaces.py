"""Commands: making and showing a workspace: new, demo, serve."""

from __future__ import annotations

import argparse
import time

from dashboard.commands.asked import DONE


def run_new(arguments: argparse.Namespace) -> int:
    from dashboard.new_workspace import Options, start_workspace
    from dashboard.start.more import permit_of

    options = Options(
        gauges=tuple(arguments.gauge),
        visits=arguments.visits,
        title=arguments.title,
        time_zone=arguments.time_zone,
        unit=arguments.unit,
        stops_below=tuple(arguments.stops_below),
        display_unit=arguments.display_unit,
        restarts_above=tuple(arguments.restarts_above),
        captures=arguments.captures,
        permit=permit_of(
            arguments.permit,
            arguments.permit_holder,
            arguments.permit_first,
            arguments.permit_last,
            arguments.holding_minutes,
        ),
    )
    return start_workspace(arguments.folder, options)


def run_demo(arguments: argparse.Namespace) -> int:
    from dashboard.answers.status import status
    from dashboard.first_page import keep_status
    from dashboard.loaded import Loaded, revision
    from dashboard.serving import make_demo, serve
    from dashboard.wording.status import as_text
    from dashboard.workspace import load_workspace

    made = make_demo(arguments.folder)
    print(f"{'Made' if made else 'Found'} the invented demo workspace in {arguments.folder}\n")
    name, now = revision(arguments.folder), time.time()
    workspace = load_workspace(arguments.folder)
    found = status(workspace)
    print(as_text(found), flush=True)
    if arguments.no_serve:
        return DONE
    keep_status(Loaded(revision=name, read_from=now, workspace=workspace), found)
    return serve(arguments.folder, arguments.host, arguments.port, trust_network=arguments.trust_network)


def run_serve(arguments: argparse.Namespace) -> int:
    from dashboard.serving import serve
    from dashboard.start.dropped import check_servable
    from dashboard.wording.start import nothing_there
    from dashboard.workspace_file import read_workspace_file

    if check_servable(arguments.workspace):
        print(nothing_there(arguments.workspace))
    else:
        # A workspace that cannot be read at all is said here; problems inside its files are shown on the pages.
        read_workspace_file(arguments.workspace)
    return serve(arguments.workspace, arguments.host, arguments.port, trust_network=arguments.trust_network)
