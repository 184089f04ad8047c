"""Addresses in the metadata of a package: an index that shows the README needs them in full."""

import os
import re
from pathlib import Path
from typing import Any

from hatchling.metadata.plugin.interface import MetadataHookInterface

ADDRESS = "BUCKWRIGHT_ADDRESS"
"""Variable of the environment: the public address of this folder's files, at the release that is built."""

_PICTURE = re.compile(r"!\[([^\]]*)\]\((?!https?:)([^)\s]+)\)\n?")
_LINK = re.compile(r"(?<!!)\[([^\]]+)\]\((?!https?:|#)([^)\s]+)\)")


class Addresses(MetadataHookInterface):
    """Called by the build for whatever `project.dynamic` names."""

    PLUGIN_NAME = "custom"

    def update(self, metadata: dict[str, Any]) -> None:
        """Fill in the README and, where the address is known, the address of the project."""
        address = os.environ.get(ADDRESS, "").rstrip("/")
        words = (Path(self.root) / "README.md").read_text(encoding="utf-8")
        metadata["readme"] = {"content-type": "text/markdown", "text": addressed(words, address)}
        if address:
            metadata["urls"] = {"Repository": address}


def addressed(words: str, address: str) -> str:
    """The README with full addresses; without an address it goes without pictures, and links become words."""
    if not address:
        return _LINK.sub(r"\1", _PICTURE.sub("", words))
    words = _PICTURE.sub(lambda found: found[0].replace(f"({found[2]}", f"({address}/{found[2]}"), words)
    return _LINK.sub(lambda found: f"[{found[1]}]({address}/{found[2]})", words)
