"""Reads a QR code of version 5, level M, as ISO/IEC 18004 says: enough for an address on a label. Nothing is corrected; a print is not what is tested."""

import re

SIZE, QUIET = 37, 4
BLOCKS, DATA_PER_BLOCK = 2, 43  # table 9: version 5-M has two blocks of 43 data codewords
FORMAT_MASK, LEVEL_M = 0b10101, 0b00  # first five bits of the mask of the format; table 12
MASKS = (
    lambda i, j: (i + j) % 2, lambda i, j: i % 2, lambda i, j: j % 3, lambda i, j: (i + j) % 3, lambda i, j: (i // 2 + j // 3) % 2,
    lambda i, j: i * j % 2 + i * j % 3, lambda i, j: (i * j % 2 + i * j % 3) % 2, lambda i, j: ((i + j) % 2 + i * j % 3) % 2,
)  # table 10; a module is turned where the value is 0


def modules(svg: str) -> list[list[int]]:
    """The dark (1) and light (0) modules of the path: strokes one module high, moves relative to where the last one ended."""
    grid = [[0] * (SIZE + 2 * QUIET) for _ in range(SIZE + 2 * QUIET)]
    x = y = 0.0
    for kind, first, second in re.findall(r"([Mmh])(-?[\d.]+)(?: (-?[\d.]+))?", re.search(r'\bd="([^"]+)"', svg)[1]):
        if kind == "h":
            for column in range(int(x), int(x) + int(first)):
                grid[int(y)][column] = 1
            x += int(first)
        else:
            x, y = (float(first), float(second)) if kind == "M" else (x + float(first), y + float(second))
    return [row[QUIET:-QUIET] for row in grid[QUIET:-QUIET]]


def _is_function(i: int, j: int) -> bool:
    """Finders with the format beside them, timing, alignment pattern about (30, 30)."""
    in_finder = (i < 9 and j < 9) or (i < 9 and j >= SIZE - 8) or (i >= SIZE - 8 and j < 9)
    return in_finder or i == 6 or j == 6 or (28 <= i <= 32 and 28 <= j <= 32)


def _bits(grid: list[list[int]], mask) -> list[int]:
    """Data modules in pairs of columns from the right, upwards first, the vertical timing column passed over."""
    found, up = [], True
    for right in [column for column in range(SIZE - 1, 0, -2) if column > 6] + [5, 3, 1]:
        for i in range(SIZE - 1, -1, -1) if up else range(SIZE):
            found += [grid[i][j] ^ (mask(i, j) == 0) for j in (right, right - 1) if not _is_function(i, j)]
        up = not up
    return found


def read(grid: list[list[int]]) -> str:
    """The text of a code in byte mode."""
    assert len(grid) == len(grid[0]) == SIZE
    form = int("".join(map(str, grid[8][:5])), 2) ^ FORMAT_MASK
    assert form >> 3 == LEVEL_M
    bits = _bits(grid, MASKS[form & 7])
    words = [int("".join(map(str, bits[k : k + 8])), 2) for k in range(0, 8 * BLOCKS * DATA_PER_BLOCK, 8)]
    data = [word for block in range(BLOCKS) for word in words[block::BLOCKS]]
    stream = "".join(f"{word:08b}" for word in data)
    assert stream[:4] == "0100"  # byte mode
    count = int(stream[4:12], 2)
    return bytes(int(stream[12 + 8 * k : 20 + 8 * k], 2) for k in range(count)).decode()
