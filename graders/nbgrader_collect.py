"""An older name: the configuration of class folders made before uses it."""

from graders.nbgrader_bridge.collect import ArchiveCollector, ArchiveExtractor

__all__ = ["ArchiveCollector", "ArchiveExtractor"]
