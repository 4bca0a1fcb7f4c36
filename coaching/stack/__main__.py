"""`python -m coaching.stack`: run the demo. No root, no containers, nothing installed by hand."""

import argparse
import sys
from pathlib import Path

from coaching.stack import demo
from coaching.stack.commands import FIRST_PORT
from coaching.stack.folders import PROJECT, FolderInUse, StackError, find_state, hold


def main(arguments: list[str]) -> int:
    """Returns the exit code: 0 when it was told to stop, 1 with one clear message when it could not run."""
    parser = argparse.ArgumentParser(
        prog="python -m coaching.stack", description="Run the demo until Ctrl-C."
    )
    parser.add_argument("--port", type=int, default=FIRST_PORT, help="first port to try for the web server")
    parser.add_argument(
        "--state", type=Path, default=find_state(), help="folder that holds everything entered"
    )
    parser.add_argument("--tree", type=Path, default=PROJECT, help="folder that holds manage.py")
    options = parser.parse_args(arguments)
    state = options.state.absolute()
    try:
        with hold(state):
            demo.run(state, first_port=options.port, tree=options.tree.absolute())
    except FolderInUse as error:
        address = demo.address_file(state)
        where = f" It answers at {address.read_text()}." if address.exists() else ""
        print(f"{error}{where}", file=sys.stderr)
        return 1
    except StackError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
