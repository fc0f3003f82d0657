"""An older name: the configuration of class folders made before uses it."""

from graders.nbgrader_bridge.sandboxed_kernel import CodeInBox

__all__ = ["CodeInBox"]
