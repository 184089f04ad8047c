"""Starts the library in the child process: `worker.py FOLDER... -- host.py request.json`.

Blender's Python is run with its isolated mode, where it does not see the wheels of extensions; their folders
are named on the command line and added behind what is there, so that Blender's own numpy is taken.
This runs in the child only and imports nothing of Blender.
"""

import runpy
import sys


def main() -> None:
    """Add the folders and run the rest."""
    mark = sys.argv.index("--")
    folders, rest = sys.argv[1:mark], sys.argv[mark + 1 :]
    sys.path += [folder for folder in folders if folder not in sys.path]
    sys.argv = rest
    runpy.run_path(rest[0], run_name="__main__")


if __name__ == "__main__":
    main()
