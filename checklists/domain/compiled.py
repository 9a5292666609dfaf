"""What is worked out once for a protocol and serves every entry and every episode."""

from typing import TYPE_CHECKING

from .shape import Shapes

if TYPE_CHECKING:
    from .protocol import Protocol


class Compiled:
    """The compiled form of a protocol."""

    def __init__(self, protocol: "Protocol") -> None:
        self.protocol = protocol
        self.shapes = Shapes(protocol)
