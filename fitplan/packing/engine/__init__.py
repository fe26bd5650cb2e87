"""The exact search and its proofs, in whole numbers of any unit.

In: a `problem.Problem` (items as unions of boxes in allowed variants, clearances, a space of obstacles)
and a budget of work. Out: an `Answer`: places, or a confirmed proof that there are none, or *not
decided*.

Obstacles are cut out of each variant's offsets first (`free_offsets`), exactly; `bounds` settles what
needs no search; `portfolio` lets searches take turns of counted work: for general shapes `search_places`,
for plain blocks `search_corner` and `search_fill`, with `weights_proof` as an argument summed twice.
`placement_check` checks every answer with code of its own. `infeasible_subset` shrinks a proof to the few
items that it is about.

Begin with `solve.solve`. A search that gave up, for want of work, time or room in a buffer, is never a
proof.
"""
