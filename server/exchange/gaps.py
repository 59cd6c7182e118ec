"""Pure: stretches of a feed that the other side need not be told, because they came from there."""

from pydantic import BaseModel, ConfigDict, Field

from server.sync.feed import LARGEST, Mark

EVERYTHING = LARGEST


class Gap(BaseModel):
    """Numbers `first` to last.seq, all of them from the other side."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    first: int = Field(ge=1)
    last: Mark


def stored_last(head: Mark, stored: int) -> list[Gap]:
    """The gap that a batch leaves: the last `stored` numbers up to the head, since nothing comes between the entries of a batch."""
    return [Gap(first=head.seq - stored + 1, last=head)] if stored else []


def joined(gaps: list[Gap], more: list[Gap]) -> list[Gap]:
    """Gaps in order, those that touch as one."""
    found: list[Gap] = []
    for gap in sorted([*gaps, *more], key=lambda one: one.first):
        if found and gap.first <= found[-1].last.seq + 1:
            found[-1] = Gap(first=found[-1].first, last=max(found[-1].last, gap.last, key=lambda mark: mark.seq))
        else:
            found.append(gap)
    return found


def step(gaps: list[Gap], after: Mark) -> tuple[list[Gap], Mark, int]:
    """(gaps still ahead, the place to go on from, the number up to which to read): over a gap that begins here, and up to the next one."""
    ahead = [gap for gap in gaps if gap.last.seq > after.seq]
    while ahead and ahead[0].first <= after.seq + 1:
        after = ahead.pop(0).last
    return ahead, after, ahead[0].first - 1 if ahead else EVERYTHING
