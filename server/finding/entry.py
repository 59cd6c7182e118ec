"""Wire classes of what a person says about findings."""

from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from server.store.latest import Statement
from server.store.log import Envelope, line


class MarginBody(Statement):
    """Within how many per cent the times of two groups (keys as in selection.py, in either order) count as alike."""

    first: line(140, 1)
    second: line(140, 1)
    lane: Literal["sag", "round", "glow"]
    percent: float = Field(ge=1, le=100)


class Margin(Envelope):
    kind: Literal["finding.margin"]
    body: MarginBody


KINDS = TypeAdapter(Annotated[Margin, Field()])
