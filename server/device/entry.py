"""Wire classes of what a device found when it tried itself."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, TypeAdapter

from server.store.log import Envelope, Strict, line

Result = Literal["good", "mind", "bad", "unknown"]


class Check(Strict):
    """One thing that was tried. good; mind: usable, and something should be known; bad: not fit; unknown: could not be tried. `figure`: the number behind the words, if there is one, in `unit`."""

    key: Annotated[str, StringConstraints(pattern=r"^[a-z_]{1,24}$")]
    label: line(60, 1)
    result: Result
    words: line(300)
    figure: Annotated[float, Field(ge=-1e12, le=1e12)] | None
    unit: line(8)


class TestedBody(Strict):
    """What the desk calls the device, how its browser calls itself, and every check."""

    name: line(80)
    agent: line(300)
    checks: list[Check] = Field(min_length=1, max_length=40)


class Tested(Envelope):
    """The subject is the device itself."""

    kind: Literal["device.tested"]
    body: TestedBody


KINDS = TypeAdapter(Annotated[Tested, Field()])
