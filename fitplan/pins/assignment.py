"""The cheapest assignment of rows to columns.

The method of shortest augmenting ways with potentials (Kuhn 1955, Munkres 1957; the form that needs
O(rows² · columns) steps is from Jonker and Volgenant, Computing 38 (1987)).
"""

from __future__ import annotations

from collections.abc import Sequence


def assign_rows(costs: Sequence[Sequence[int]]) -> tuple[int, ...]:
    """Return for each row the column that it is given, so that the sum of the costs is least.

    Parameters
    ----------
    costs
        One row of whole numbers each; at least as many columns as rows.

    Raises
    ------
    ValueError
        When there are fewer columns than rows.
    """
    rows = len(costs)
    if rows == 0:
        return ()
    columns = len(costs[0])
    if columns < rows:
        raise ValueError(f"{rows} rows cannot have a column each of {columns}")
    row_price = [0] * (rows + 1)
    column_price = [0] * (columns + 1)
    row_at = [0] * (columns + 1)  # row (from 1) that holds a column (from 1); column 0 is the free end
    for row in range(1, rows + 1):
        row_at[0] = row
        column = 0
        least: list[float] = [float("inf")] * (columns + 1)
        came_from = [0] * (columns + 1)
        done = [False] * (columns + 1)
        while row_at[column]:
            done[column] = True
            here, step, nearest = row_at[column], float("inf"), 0
            for other in range(1, columns + 1):
                if done[other]:
                    continue
                reduced = costs[here - 1][other - 1] - row_price[here] - column_price[other]
                if reduced < least[other]:
                    least[other], came_from[other] = reduced, column
                if least[other] < step:
                    step, nearest = least[other], other
            for other in range(columns + 1):
                if done[other]:
                    row_price[row_at[other]] += int(step)
                    column_price[other] -= int(step)
                else:
                    least[other] -= step
            column = nearest
        while column:
            row_at[column] = row_at[came_from[column]]
            column = came_from[column]
    given = [0] * rows
    for column in range(1, columns + 1):
        if row_at[column]:
            given[row_at[column] - 1] = column - 1
    return tuple(given)
